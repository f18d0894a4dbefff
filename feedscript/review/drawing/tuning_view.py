"""Residuals of a tuning as a picture: where balls landed against where they should have."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

import numpy as np
from numpy.typing import NDArray

from feedscript.review.drawing.axes import Axes
from feedscript.review.drawing.palette import COLOURS, INK, PAPER, SOFT_INK
from feedscript.review.drawing.svg import Element, circle, document, line, rectangle, text, title

Array = NDArray[np.float64]

_WIDTH, _HEIGHT = 1120.0, 492.0
_LEFTS, _TOP, _PANEL, _TALL = (80.0, 640.0), 130.0, 420.0, 270.0
_GOOD, _ASIDE = COLOURS[0], COLOURS[1]


def residual_picture(
    heading: str,
    words: str,
    along_m: Array,
    residuals: Array,
    set_aside: Sequence[int],
    lines: Sequence[int],
) -> Element:
    """An SVG with two panels: measured less predicted, along and to the right, over distance.

    ``along_m`` is how far each ball should have gone, (n); ``residuals`` is (n, 2 or more) in
    metres; ``lines`` are the balls' lines in their file, shown when the pointer rests on one.
    """
    parts: list[Element] = [
        rectangle((0, 0), _WIDTH, _HEIGHT, fill=PAPER),
        text((_LEFTS[0], 34), heading, fill=INK, font_size=20, font_weight="bold"),
        text((_LEFTS[0], 58), words, fill=SOFT_INK, font_size=12),
    ]
    names = ("along the throw", "to the right")
    for column, (left, name) in enumerate(zip(_LEFTS, names, strict=True)):
        parts += _panel(left, name, along_m, residuals[:, column], set(set_aside), lines)
    parts += _key()
    return document(_WIDTH, _HEIGHT, parts, label=f"{heading}: {words}")


def _panel(
    left: float, name: str, along: Array, miss: Array, aside: set[int], lines: Sequence[int]
) -> Iterable[Element]:
    seen = np.flatnonzero(np.isfinite(miss) & np.isfinite(along))
    kept = [i for i in seen if i not in aside]
    reach = max(0.2, 1.25 * float(np.max(np.abs(miss[kept]), initial=0.0)))
    span = along[seen] if seen.size else np.array([0.0, 1.0])
    axes = Axes(
        left, _TOP, _PANEL, _TALL,
        float(span.min()) - 0.5, float(span.max()) + 0.5, -reach, reach,
    )  # fmt: skip
    yield from axes.frame(
        f"Measured less predicted, {name}", "distance it should have gone, m", "m"
    )
    for i in map(int, seen):
        at = axes.at(float(along[i]), float(np.clip(miss[i], -reach, reach)))
        words = title(f"line {lines[i]}: {miss[i]:+.2f} m")
        if i in aside:
            yield from _cross(at, words)
        else:
            dot = circle(at, 4, fill=_GOOD, fill_opacity=0.7)
            yield Element(dot.name, dot.attributes, (words,))


def _cross(at: tuple[float, float], words: Element) -> Iterable[Element]:
    x, y = at
    for slant in (1, -1):
        stroke = line(
            (x - 5, y - 5 * slant), (x + 5, y + 5 * slant), stroke=_ASIDE, stroke_width=2.5
        )
        yield Element(stroke.name, stroke.attributes, (words,))


def _key() -> Iterable[Element]:
    y = _HEIGHT - 16
    yield circle((_LEFTS[0] + 6, y - 4), 4, fill=_GOOD, fill_opacity=0.7)
    yield text((_LEFTS[0] + 18, y), "ball", fill=INK, font_size=12)
    yield from _cross((_LEFTS[0] + 76, y - 4), title("set aside"))
    yield text(
        (_LEFTS[0] + 90, y),
        "set aside: far outside the others (drawn at the edge if beyond it)",
        fill=INK,
        font_size=12,
    )
