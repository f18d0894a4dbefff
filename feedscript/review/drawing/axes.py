"""Two plain axes with round figures, for curves beside the court."""

from __future__ import annotations

import math
from collections.abc import Iterable

import msgspec

from feedscript.review.drawing.palette import INK, RULE, SOFT_INK
from feedscript.review.drawing.svg import Element, Point, Value, line, rectangle, text


class Axes(msgspec.Struct, frozen=True):
    """A rectangle of the picture and the figures at its edges."""

    left: float
    top: float
    width: float
    height: float
    x_least: float
    x_most: float
    y_least: float
    y_most: float

    def at(self, x: float, y: float) -> Point:
        """Figures to picture coordinates; y grows upwards."""
        across = (x - self.x_least) / (self.x_most - self.x_least)
        up = (y - self.y_least) / (self.y_most - self.y_least)
        return (self.left + across * self.width, self.top + (1 - up) * self.height)

    def frame(self, heading: str, x_words: str, y_words: str) -> Iterable[Element]:
        """Ground, rules, figures and words."""
        yield rectangle((self.left, self.top), self.width, self.height, fill="#f7f9fa")
        look: dict[str, Value | None] = {"stroke": RULE, "stroke_width": 1.0}
        figures: dict[str, Value | None] = {"fill": SOFT_INK, "font_size": 11.0}
        bottom = self.top + self.height
        for x in ticks(self.x_least, self.x_most):
            at, _ = self.at(x, self.y_least)
            yield line((at, self.top), (at, bottom), **look)
            yield text((at, bottom + 16), f"{x:g}", text_anchor="middle", **figures)
        for y in ticks(self.y_least, self.y_most):
            _, at = self.at(self.x_least, y)
            yield line((self.left, at), (self.left + self.width, at), **look)
            yield text((self.left - 6, at + 4), f"{y:g}", text_anchor="end", **figures)
        if self.y_least < 0 < self.y_most:
            yield line(self.at(self.x_least, 0), self.at(self.x_most, 0), stroke=SOFT_INK)
        middle = self.left + self.width / 2
        yield text((self.left, self.top - 30), heading, fill=INK, font_size=13, font_weight="bold")
        yield text((self.left, self.top - 10), y_words, fill=INK, font_size=12)
        yield text((middle, bottom + 34), x_words, fill=INK, font_size=12, text_anchor="middle")


def ticks(least: float, most: float, about: int = 6) -> list[float]:
    """Round figures from least to most, about so many."""
    rough = (most - least) / about
    power = 10.0 ** math.floor(math.log10(rough))
    step = next(power * k for k in (1, 2, 2.5, 5, 10) if power * k >= rough * 0.999)
    first, last = math.ceil(least / step - 1e-9), math.floor(most / step + 1e-9)
    return [round(k * step, 10) + 0.0 for k in range(first, last + 1)]
