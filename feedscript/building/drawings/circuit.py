"""What circuits are drawn of: wires, the dots where they meet, and parts with two ends.

Every wire and both ends of every part can be found in the picture, so that a circuit can be read
back from it.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from feedscript.building.drawings.dimension import CUT
from feedscript.review.drawing.palette import INK
from feedscript.review.drawing.svg import (
    Element,
    Point,
    circle,
    group,
    line,
    polyline,
    rectangle,
    title,
)


def wire(points: Sequence[Point], *, colour: str = INK, width: float = 1.8) -> Element:
    """A wire; where another ends on it, it has a corner."""
    return polyline(points, stroke=colour, class_="wire", stroke_width=width)


def joints(wires: Iterable[Sequence[Point]]) -> list[Element]:
    """A dot wherever three ways meet."""
    ways: dict[Point, int] = {}
    for points in wires:
        for place, point in enumerate(points):
            ways[point] = ways.get(point, 0) + (1 if place in (0, len(points) - 1) else 2)
    return [circle(point, 4.5, fill=INK) for point, count in ways.items() if count >= 3]


def part(name: str, what: str, ends: tuple[Point, Point], drawn: Iterable[Element]) -> Element:
    """A part with a dot at both its ends."""
    dots = [circle(end, 2.6, fill=INK, class_="end") for end in ends]
    return group([title(what), *drawn, *dots], id=name)


def box(one: Point, other: Point, wide: float) -> Element:
    """A body from end to end."""
    if one[1] == other[1]:
        return rectangle((one[0], one[1] - wide / 2), other[0] - one[0], wide, **CUT)
    return rectangle((one[0] - wide / 2, one[1]), wide, other[1] - one[1], **CUT)


def contact(one: Point, other: Point, *, closed: bool, colour: str = INK) -> Element:
    """An arm from the second end that touches the first, or stands off it."""
    if one[1] == other[1]:
        return line(other, (one[0], one[1] - 18.0), stroke=colour, stroke_width=2.6)
    tip = (one[0] - (10.0 if closed else 18.0), one[1] + (0.0 if closed else 6.0))
    drawn = [line(other, tip, stroke=colour, stroke_width=2.6)]
    if closed:
        drawn.append(line(one, (one[0] - 14.0, one[1]), stroke=colour, stroke_width=2.6))
    return group(drawn)
