"""Colours, marks and dashes that stay apart for every kind of colour vision.

Colours: Okabe and Ito, "Color universal design", 2008 (their yellow is left out: too pale for a
line on a light ground). No meaning hangs on colour alone: each feed has a mark and a letter too.
"""

from __future__ import annotations

import math

import msgspec

from feedscript.review.drawing.svg import Element, Point, Value, circle, polygon, rectangle

COLOURS = ("#0072B2", "#D55E00", "#009E73", "#CC79A7", "#E69F00", "#56B4E9", "#000000")
DASHES = (None, "7 4", "2 3", "9 3 2 3")
INK = "#1a1a1a"
SOFT_INK = "#454d54"
RULE = "#b9c0c6"
PAPER = "#ffffff"
_MARKS = 5


class Style(msgspec.Struct, frozen=True):
    """How one feed looks everywhere in a picture."""

    letter: str
    colour: str
    dash: str | None
    mark: int

    def draw_mark(self, at: Point, size: float = 5.0) -> Element:
        """The feed's mark: disc, square, triangle, diamond or pentagon."""
        paint: dict[str, Value | None] = {
            "fill": self.colour,
            "stroke": PAPER,
            "stroke_width": 1.0,
        }
        x, y = at
        if self.mark == 0:
            return circle(at, size, **paint)
        if self.mark == 1:
            side = size * 1.75
            return rectangle((x - side / 2, y - side / 2), side, side, **paint)
        corners, turn = {2: (3, -90.0), 3: (4, -90.0), 4: (5, -90.0)}[self.mark]
        reach = size * {2: 1.35, 3: 1.3, 4: 1.15}[self.mark]
        angles = [math.radians(turn + 360 / corners * k) for k in range(corners)]
        return polygon(
            [(x + reach * math.cos(a), y + reach * math.sin(a)) for a in angles], **paint
        )


def style(index: int) -> Style:
    """The style of the n-th feed; colour, mark and dash repeat at different periods."""
    return Style(
        letter=letters(index),
        colour=COLOURS[index % len(COLOURS)],
        dash=DASHES[index // len(COLOURS) % len(DASHES)],
        mark=index % _MARKS,
    )


def letters(index: int) -> str:
    """A, B … Z, AA, AB …"""
    word = ""
    index += 1
    while index:
        index, rest = divmod(index - 1, 26)
        word = chr(ord("A") + rest) + word
    return word
