"""Lines that say how long something is, and the sheet that they stand on. Picture units are px."""

from __future__ import annotations

import math
from collections.abc import Iterable
from textwrap import wrap

from feedscript.review.drawing.palette import INK, PAPER, SOFT_INK
from feedscript.review.drawing.svg import (
    Element,
    Point,
    Value,
    document,
    group,
    line,
    polygon,
    rectangle,
    text,
    write,
)

WORDS_PX = 13.0
HEADING_PX = 17.0
_ARROW = 8.0
_BEYOND = 6.0
_LETTER_PX = 7.4  # of a letter of the notes, at the mean
#: What is cut, what is only seen, and what moves, told by their lines.
CUT: dict[str, Value | None] = {"fill": "#e9e4d8", "stroke": INK, "stroke_width": 1.6}
SEEN: dict[str, Value | None] = {"fill": "none", "stroke": INK, "stroke_width": 1.2}
GHOST: dict[str, Value | None] = {
    "fill": "none", "stroke": SOFT_INK, "stroke_width": 1.2, "stroke_dasharray": "6 4",
}  # fmt: skip
BALL: dict[str, Value | None] = {"fill": "#f3f2a8", "stroke": INK, "stroke_width": 1.2}


def dimension(start: Point, end: Point, words: str, *, off: float, beside: float = 0.0) -> Element:
    """From ``start`` to ``end``, drawn ``off`` to the left of that way (right if negative).

    ``beside`` moves the words along the line, out of the way of others.
    """
    length = math.dist(start, end)
    along = ((end[0] - start[0]) / length, (end[1] - start[1]) / length)
    aside = (along[1], -along[0])
    first, last = (_moved(point, aside, off) for point in (start, end))
    reach = off + math.copysign(_BEYOND, off)
    drawn = [
        line(point, _moved(point, aside, reach), stroke=SOFT_INK, stroke_width=0.7)
        for point in (start, end)
    ]
    drawn.append(line(first, last, stroke=INK, stroke_width=1.0))
    drawn += [_arrow(first, (-along[0], -along[1])), _arrow(last, along)]
    return group([*drawn, _words(first, last, along, words, beside)], class_="dimension")


def _words(first: Point, last: Point, along: Point, words: str, beside: float) -> Element:
    """Along the line, read from below or from the right; on a ground of paper."""
    turn = math.degrees(math.atan2(along[1], along[0]))
    turn += 180.0 if not -90.5 < turn < 89.5 else 0.0
    x = (first[0] + last[0]) / 2 + along[0] * beside
    y = (first[1] + last[1]) / 2 + along[1] * beside
    return text(
        (x, y - 5.0),
        words,
        text_anchor="middle",
        font_size=WORDS_PX,
        fill=INK,
        stroke=PAPER,
        stroke_width=4,
        paint_order="stroke",
        transform=None if abs(turn) < 0.1 else f"rotate({turn:.1f} {x:.2f} {y:.2f})",
    )


def _arrow(tip: Point, way: Point) -> Element:
    back = (tip[0] - way[0] * _ARROW, tip[1] - way[1] * _ARROW)
    half = (way[1] * _ARROW / 4, -way[0] * _ARROW / 4)
    corners = [tip, (back[0] + half[0], back[1] + half[1]), (back[0] - half[0], back[1] - half[1])]
    return polygon(corners, fill=INK)


def _moved(point: Point, way: Point, by: float) -> Point:
    return (point[0] + way[0] * by, point[1] + way[1] * by)


def note(place: Point, words: str, *, anchor: str = "start", soft: bool = False) -> Element:
    """A line of words."""
    colour = SOFT_INK if soft else INK
    return text(place, words, font_size=WORDS_PX, fill=colour, text_anchor=anchor,
                stroke=PAPER, stroke_width=4, paint_order="stroke")  # fmt: skip


def sheet(
    width: float, height: float, heading: str, notes: Iterable[str], drawn: Iterable[Element]
) -> str:
    """A whole drawing of this height, its heading above; its notes stand below it."""
    room = int((width - 48.0) / _LETTER_PX)
    lines = [row for words in notes for row in wrap(words, room)]
    written = [
        note((24.0, height + 8.0 + 19.0 * row), words, soft=True) for row, words in enumerate(lines)
    ]
    whole = height + 19.0 * len(lines) + 8.0
    paper = rectangle((0.0, 0.0), width, whole, fill=PAPER)
    title = text((24.0, 34.0), heading, font_size=HEADING_PX, font_weight="bold", fill=INK)
    return write(document(width, whole, [paper, title, *drawn, *written], label=heading))
