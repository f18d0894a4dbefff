"""Where one feed's balls really landed, drawn as the launcher sees it: the far side on top."""

from __future__ import annotations

import math
from collections.abc import Iterable

from feedscript.court.lines import Court
from feedscript.plan.model import Result
from feedscript.review.drawing.palette import INK, PAPER, RULE, SOFT_INK
from feedscript.review.drawing.svg import (
    Element,
    Point,
    circle,
    document,
    line,
    polygon,
    rectangle,
    text,
)
from feedscript.review.report.film.landed import Landed, Pair
from feedscript.session.operator.controls import RESULT_COLOURS
from feedscript.tongues.text import _

_SIDE_PX, _FOOT_PX = 250.0, 26.0
_ROOM_M, _LEAST_M = 0.4, 4.0  # so wide that a line of the court is seldom outside
_BALL = RESULT_COLOURS[Result.IN]


class _Window:
    """A square piece of the ground, in court axes, and where it is drawn."""

    def __init__(self, places: Iterable[Pair]) -> None:
        xs, ys = zip(*places, strict=True)
        self.side_m: float = max(max(xs) - min(xs), max(ys) - min(ys), _LEAST_M - 2 * _ROOM_M)
        self.side_m += 2 * _ROOM_M
        self.left_m = (min(xs) + max(xs) - self.side_m) / 2
        self.low_m = (min(ys) + max(ys) - self.side_m) / 2

    def at(self, place: Pair) -> Point:
        scale = _SIDE_PX / self.side_m
        return (place[0] - self.left_m) * scale, _SIDE_PX - (place[1] - self.low_m) * scale

    def length_px(self, length_m: float) -> float:
        return length_m * _SIDE_PX / self.side_m

    def clipped(self, start: Pair, end: Pair) -> tuple[Pair, Pair] | None:
        """The part of a line across or along the court that is inside; None where none is."""
        low = (self.left_m, self.low_m)
        ends = [sorted((start[axis], end[axis])) for axis in (0, 1)]
        kept = [
            (max(ends[axis][0], low[axis]), min(ends[axis][1], low[axis] + self.side_m))
            for axis in (0, 1)
        ]
        if any(least > most for least, most in kept):
            return None
        return (kept[0][0], kept[1][0]), (kept[0][1], kept[1][1])


def landed_picture(landed: Landed, court: Court) -> Element:
    """Crosses are asked; discs landed, each in its 95 % region; an arrow is the bias."""
    ends = [_end(place.landing_m, place.region_m[0]) for place in landed.places]
    window = _Window([corner for each in ends for corner in each] + _asked(landed))
    body = [rectangle((0, 0), _SIDE_PX, _SIDE_PX, fill="#eef3f7"), *_lines(court, window)]
    for place in landed.places:
        outline = _ellipse(window, place.landing_m, place.region_m, place.turn_deg)
        body.append(polygon(outline, fill=_BALL, fill_opacity=0.18, stroke=_BALL))
    body += [circle(window.at(one.landing_m), 3, fill=_BALL) for one in landed.places]
    body += [part for place in _asked(landed) for part in _cross(window.at(place))]
    body += _arrow(landed, window)
    body += _scale(window)
    label = _(
        "{n} balls seen to land, {m} not seen",
        n=len(landed.places),
        m=sum(landed.unseen.values()) + landed.refused,
    )
    ground = rectangle((0, 0), _SIDE_PX, _SIDE_PX + _FOOT_PX, fill=PAPER)
    return document(_SIDE_PX, _SIDE_PX + _FOOT_PX, [ground, *body], label=label)


def _end(place: Pair, reach_m: float) -> tuple[Pair, Pair]:
    return (place[0] - reach_m, place[1] - reach_m), (place[0] + reach_m, place[1] + reach_m)


def _asked(landed: Landed) -> list[Pair]:
    return list(dict.fromkeys(place.asked_m for place in landed.places))


def _lines(court: Court, window: _Window) -> Iterable[Element]:
    wide = court.doubles_half_width_m or court.half_width_m
    inner, back, service = court.singles_half_width_m, court.half_length_m, court.service_line_m
    ends: list[tuple[Pair, Pair]] = [((-wide, back), (wide, back))]
    ends += [((x, 0.0), (x, back)) for x in (-wide, -inner, inner, wide)]
    ends += [((-inner, service), (inner, service)), ((0.0, 0.0), (0.0, service))]
    for start, end in ends:
        if (part := window.clipped(start, end)) is not None:
            yield line(window.at(part[0]), window.at(part[1]), stroke=SOFT_INK, stroke_width=1.4)
    if (net := window.clipped((-wide - 0.9, 0.0), (wide + 0.9, 0.0))) is not None:
        yield line(window.at(net[0]), window.at(net[1]), stroke=INK, stroke_width=2.6)


def _ellipse(window: _Window, place: Pair, half_m: Pair, turn_deg: float) -> list[Point]:
    turn, points = math.radians(turn_deg), []
    for step in range(32):
        angle = step * math.pi / 16
        along, across = half_m[0] * math.cos(angle), half_m[1] * math.sin(angle)
        x = place[0] + along * math.cos(turn) - across * math.sin(turn)
        y = place[1] + along * math.sin(turn) + across * math.cos(turn)
        points.append(window.at((x, y)))
    return points


def _cross(place: Point) -> Iterable[Element]:
    x, y = place
    for start, end in (((x - 6, y), (x + 6, y)), ((x, y - 6), (x, y + 6))):
        yield line(start, end, stroke=PAPER, stroke_width=4)
        yield line(start, end, stroke=INK, stroke_width=2)


def _arrow(landed: Landed, window: _Window) -> Iterable[Element]:
    """From where it was asked to the mean, where all were asked to one place."""
    asked = _asked(landed)
    if landed.bias is None or len(asked) != 1:
        return
    start, (off_x, off_y) = asked[0], landed.bias.off_m
    end = (start[0] + off_x, start[1] + off_y)
    region = _ellipse(window, end, landed.bias.region_m, landed.bias.turn_deg)
    look: dict[str, str | float] = {"stroke": INK, "stroke_width": 1.4}
    yield polygon(region, fill="none", stroke_dasharray="4 3", **look)
    (x0, y0), (x1, y1) = window.at(start), window.at(end)
    yield line((x0, y0), (x1, y1), **look)
    length = math.hypot(x1 - x0, y1 - y0)
    if length > 8:
        ux, uy = (x1 - x0) / length, (y1 - y0) / length
        sides = [(x1 - 8 * ux + s * 4 * uy, y1 - 8 * uy - s * 4 * ux) for s in (1, -1)]
        yield polygon([(x1, y1), *sides], fill=INK)


def _scale(window: _Window) -> Iterable[Element]:
    """A bar of a round length."""
    length_m = next((one for one in (5.0, 2.0, 1.0, 0.5) if one <= window.side_m / 2), 0.5)
    y, right = _SIDE_PX + _FOOT_PX / 2, 10 + window.length_px(length_m)
    yield line((10, y), (right, y), stroke=INK, stroke_width=2)
    for x in (10.0, right):
        yield line((x, y - 4), (x, y + 4), stroke=INK, stroke_width=2)
    yield text((right + 8, y + 4), f"{length_m:g} m", font_size=12, fill=INK)
    yield line((0, _SIDE_PX), (_SIDE_PX, _SIDE_PX), stroke=RULE, stroke_width=1)
