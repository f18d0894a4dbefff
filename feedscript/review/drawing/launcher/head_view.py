"""The head of a launcher in small: what makes its balls fly, to scale and with a word where from.

Wheels, barrel and arm have their own sizes, and the ball is one of 6.6 cm. A tank is drawn as a
cube of its volume, a spring with coils that nobody counted.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator

import msgspec

from feedscript.launcher.profile.drives import (
    Air,
    Arm,
    Drive,
    OneWheel,
    Spring,
    ThreeWheels,
    Valve,
)
from feedscript.review.drawing.palette import COLOURS, INK, RULE, SOFT_INK
from feedscript.review.drawing.svg import Element, Point, circle, line, polygon, polyline, text

_BALL_M = 0.033
_WHEEL_WIDE_M = 0.05
_COILS = 6
_ARROW_M = 0.09


class _Shape(msgspec.Struct, frozen=True):
    """Points in metres, the ball's middle at the origin, its way to the right, up upwards."""

    points: tuple[Point, ...]
    closed: bool = True
    radius_m: float | None = None  # a circle around the one point
    soft: bool = False


def head_picture(drive: Drive, corner: Point, width: float, height: float) -> Iterator[Element]:
    """The head inside a box of the picture, its upper left corner given."""
    shapes = [*_shapes(drive), _Shape(((0.0, 0.0),), radius_m=_BALL_M)]
    if not isinstance(drive, ThreeWheels):
        shapes.append(_arrow(drive))
    left, right, low, high = _reach(shapes)
    scale = min(width / (right - left), (height - 16) / (high - low))
    middle = corner[0] + width / 2, corner[1] + (height - 16) / 2

    def at(point: Point) -> Point:
        x, y = point
        return (
            middle[0] + (x - (left + right) / 2) * scale,
            middle[1] - (y - (low + high) / 2) * scale,
        )

    for number, shape in enumerate(shapes):
        ball = number == len(_shapes(drive))
        yield _drawn(shape, [at(point) for point in shape.points], scale, ball)
    words = "from behind" if isinstance(drive, ThreeWheels) else "from the side"
    below = (middle[0], corner[1] + height - 2)
    yield text(below, words, fill=SOFT_INK, font_size=10, text_anchor="middle")


def _drawn(shape: _Shape, points: list[Point], scale: float, ball: bool) -> Element:
    stroke, fill = (RULE if shape.soft else INK), "#eef1f3"
    if shape.radius_m is not None:
        fill = COLOURS[4] if ball else fill
        return circle(points[0], shape.radius_m * scale, fill=fill, stroke=stroke, stroke_width=1.2)
    if shape.closed:
        return polygon(points, fill=fill, stroke=stroke, stroke_width=1.2)
    if len(points) == 2:
        return line(*points, stroke=stroke, stroke_width=1.6)
    return polyline(points, stroke=stroke, stroke_width=1.2)


def _reach(shapes: Iterable[_Shape]) -> tuple[float, float, float, float]:
    """Left, right, lowest and highest of all shapes, m."""
    xs, ys = [], []
    for shape in shapes:
        room = shape.radius_m or 0.0
        for x, y in shape.points:
            xs += [x - room, x + room]
            ys += [y - room, y + room]
    return min(xs), max(xs), min(ys), max(ys)


def _shapes(drive: Drive) -> list[_Shape]:
    match drive:
        case ThreeWheels():
            return [
                _edge_on(drive, math.radians(120 * k + drive.first_wheel_deg)) for k in range(3)
            ]
        case OneWheel():
            return _wheel_and_pad(drive)
        case Air():
            return _barrel(drive)
        case Valve():
            return _valve()
        case Arm():
            return _arm(drive)
        case Spring():
            return _spring(drive)
        case _:
            upper = drive.wheel_diameter_m
            lower = drive.bottom_wheel_diameter_m or upper
            gap = drive.gap_m / 2
            return [_wheel(gap + upper / 2, upper), _wheel(-gap - lower / 2, lower)]


def _wheel(up_m: float, diameter_m: float) -> _Shape:
    return _Shape(((0.0, up_m),), radius_m=diameter_m / 2)


def _edge_on(drive: ThreeWheels, turn: float) -> _Shape:
    """A wheel as it looks along the throw: a bar that points at the ball."""
    out, along = (math.sin(turn), math.cos(turn)), (math.cos(turn), -math.sin(turn))
    near, far, half = drive.gap_m / 2, drive.gap_m / 2 + drive.wheel_diameter_m, _WHEEL_WIDE_M / 2
    corners = ((near, -half), (near, half), (far, half), (far, -half))
    return _Shape(tuple((out[0] * r + along[0] * w, out[1] * r + along[1] * w) for r, w in corners))


def _wheel_and_pad(drive: OneWheel) -> list[_Shape]:
    """A wheel to the side is drawn above: the pad lies on the other side of the ball."""
    up = -1.0 if abs(drive.wheel_deg) > 90 else 1.0
    far, half = drive.gap_m / 2, drive.wheel_diameter_m / 2
    pad = ((-half, -up * far), (half, -up * far), (half, -up * far * 1.5), (-half, -up * far * 1.5))
    return [_wheel(up * (far + half), drive.wheel_diameter_m), _Shape(pad)]


def _barrel(drive: Air) -> list[_Shape]:
    """The ball where it lies before the shot, the tank behind it by its volume as a cube."""
    bore, side = drive.bore_m / 2, (drive.tank_litres / 1000) ** (1 / 3) / 2
    tank = ((-bore - 2 * side, -side), (-bore, -side), (-bore, side), (-bore - 2 * side, side))
    tube = ((-bore, -bore), (drive.barrel_m, -bore), (drive.barrel_m, bore), (-bore, bore))
    return [_Shape(tank), _Shape(tube)]


def _valve() -> list[_Shape]:
    """A barrel and a tank as they may be (a profile does not hold their sizes), the valve between:
    two triangles, point to point, as drawings of pipes have it (ISO 14617-8)."""
    bore, pipe, wide = _BALL_M * 1.05, 0.06, 0.035
    back = -bore - 0.03
    left, right = back - pipe, back
    tube = ((-bore, -bore), (0.45, -bore), (0.45, bore), (-bore, bore))
    middle = ((left + right) / 2, 0.0)
    tank = ((left - 0.3, -0.1), (left - 0.03, -0.1), (left - 0.03, 0.1), (left - 0.3, 0.1))
    return [
        _Shape(tank),
        _Shape(((left - 0.03, 0.0), (left, 0.0)), closed=False),
        _Shape(((left, -wide), middle, (left, wide))),
        _Shape(((right, -wide), middle, (right, wide))),
        _Shape(((right, 0.0), (-bore, 0.0)), closed=False),
        _Shape(tube),
    ]


def _arm(drive: Arm) -> list[_Shape]:
    """At letting go: the arm stands up, its axle below the ball; behind it the way it came."""
    turns = [math.radians(90 + drive.sweep_deg * k / 40) for k in range(41)]
    axle = (0.0, -drive.arm_m)
    came = tuple((drive.arm_m * math.cos(t), axle[1] + drive.arm_m * math.sin(t)) for t in turns)
    return [
        _Shape(came, closed=False, soft=True),
        _Shape((axle, (0.0, -_BALL_M)), closed=False),
        _Shape((axle,), radius_m=0.03),
    ]


def _spring(drive: Spring) -> list[_Shape]:
    """Drawn as far as it goes, with a mark below for each notch."""
    back = -_BALL_M - 0.02
    far, half = back - drive.draw_mm.most / 1000, _BALL_M * 0.8
    coils = [
        (back + (far - back) * k / (2 * _COILS), half if k % 2 else -half)
        for k in range(2 * _COILS + 1)
    ]
    plate = ((back, -_BALL_M), (back + 0.02, -_BALL_M), (back + 0.02, _BALL_M), (back, _BALL_M))
    notches = [
        _Shape(
            ((back - step / 1000, -_BALL_M * 1.6), (back - step / 1000, -_BALL_M * 2.2)),
            closed=False,
        )
        for step in drive.steps
    ]
    return [_Shape(tuple(coils), closed=False), _Shape(plate), *notches]


def _arrow(drive: Drive) -> _Shape:
    """Which way the ball goes: beyond the barrel or the wheels."""
    from_m = max(_BALL_M * 1.5, drive.barrel_m + 0.02 if isinstance(drive, Air) else 0.0)
    to_m, head = from_m + _ARROW_M, 0.02
    return _Shape(
        ((from_m, 0.0), (to_m, 0.0), (to_m - head, head), (to_m, 0.0), (to_m - head, -head)),
        closed=False,
    )
