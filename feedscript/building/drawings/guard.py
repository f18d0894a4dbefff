"""The guard around the wheels, cut along the ball's way: what keeps hands out, and by how much."""

from __future__ import annotations

import math
from collections.abc import Callable

from feedscript.building.build_file import Build
from feedscript.building.drawings.dimension import (
    BALL,
    CUT,
    GHOST,
    SEEN,
    dimension,
    note,
    sheet,
)
from feedscript.building.feed_path import chute_m
from feedscript.building.series import reach_mm
from feedscript.building.wheels import Wheeled
from feedscript.flight.ball import DEFAULT_BALL
from feedscript.launcher.profile.drives import OneWheel, ThreeWheels
from feedscript.review.drawing.palette import INK
from feedscript.review.drawing.svg import Element, Point, circle, line, rectangle

_PX_PER_MM = 1.15
_MARGIN = 130.0
_ABOVE = 100.0
_SHEET_MM = 3.0


def nearest_wheel_mm(drive: Wheeled) -> float:
    """How far before the wheels' axles, towards the mouth, a wheel stands into the tunnel."""
    radius, half = 500 * drive.wheel_diameter_m, 500 * chute_m()
    centre = radius + _half_gap_mm(drive)
    return math.sqrt(max(radius**2 - (centre - half) ** 2, 0.0))


def guard_sheet(drive: Wheeled, build: Build) -> str:
    """The drawing as SVG."""
    radius, half_gap = 500 * drive.wheel_diameter_m, _half_gap_mm(drive)
    back, front = -(radius + build.guard_mm), radius + build.guard_mm
    mouth = nearest_wheel_mm(drive) + build.tunnel_mm
    top = half_gap + 2 * radius + build.guard_mm
    bottom = half_gap + build.plate_mm + build.guard_mm if isinstance(drive, OneWheel) else top
    width = (max(mouth, front) - back) * _PX_PER_MM + 2 * _MARGIN
    height = _ABOVE + (top + bottom) * _PX_PER_MM + 30.0

    def at(x_mm: float, y_mm: float) -> Point:
        """Millimetres from the middle of the gap, x to the mouth and y up."""
        return (_MARGIN + (x_mm - back) * _PX_PER_MM, _ABOVE + (top - y_mm) * _PX_PER_MM)

    drawn = [
        *_box(at, back, front, top, bottom),
        *_tunnel(at, front, mouth),
        *_wheels(at, drive, build),
        *_sizes(at, drive, build, (back, front, top, bottom, mouth)),
    ]
    heading = "Guard and tunnel, cut along the ball's way; mm"
    return sheet(width, height, heading, _notes(drive, build), drawn)


_Place = Callable[[float, float], Point]


def _half_gap_mm(drive: Wheeled) -> float:
    return 500 * drive.gap_m


def _box(at: _Place, back: float, front: float, top: float, bottom: float) -> list[Element]:
    """Mesh above, below and behind; open where chute and tunnel pass."""
    half = 500 * chute_m()
    walls = [
        ((back, top), (front, top)), ((back, -bottom), (front, -bottom)),
        ((back, top), (back, half)), ((back, -half), (back, -bottom)),
        ((front, top), (front, half)), ((front, -half), (front, -bottom)),
    ]  # fmt: skip
    return [
        line(at(*one), at(*other), stroke=INK, stroke_width=4, stroke_dasharray="3 3")
        for one, other in walls
    ]


def _tunnel(at: _Place, front: float, mouth: float) -> list[Element]:
    half = 500 * chute_m()
    length = max(mouth - front, 0.0) * _PX_PER_MM
    thick = _SHEET_MM * _PX_PER_MM
    upper, lower = at(front, half), at(front, -half)
    return [
        rectangle((upper[0], upper[1] - thick), length, thick, **CUT),
        rectangle(lower, length, thick, **CUT),
        line(at(front - 60, 0), at(mouth + 45, 0), **{**GHOST, "stroke_dasharray": "12 4 2 4"}),
        note((at(mouth, 0)[0] - 8, at(mouth, 0)[1] - 10), "balls leave", anchor="end"),
    ]


def _wheels(at: _Place, drive: Wheeled, build: Build) -> list[Element]:
    radius, half_gap = 500 * drive.wheel_diameter_m, _half_gap_mm(drive)
    ball = 500 * DEFAULT_BALL.diameter_m
    px = radius * _PX_PER_MM
    lower: list[Element]
    if isinstance(drive, OneWheel):
        corner = at(-radius, -half_gap)
        lower = [rectangle(corner, 2 * px, build.plate_mm * _PX_PER_MM, **CUT)]
    else:
        lower = [
            circle(at(0, -half_gap - radius), px, **SEEN),
            circle(at(0, -half_gap - radius), 5, **CUT),
        ]
    return [
        circle(at(0, half_gap + radius), px, **SEEN),
        circle(at(0, half_gap + radius), 5, **CUT),
        *lower,
        circle(at(*_touching(drive)), ball * _PX_PER_MM, **{**BALL, "stroke_dasharray": "6 4"}),
    ]


def _touching(drive: Wheeled) -> Point:
    """A ball's middle where the wheels begin to take it: between them, or on the pad below one."""
    radius, ball, half_gap = (
        500 * drive.wheel_diameter_m,
        500 * DEFAULT_BALL.diameter_m,
        _half_gap_mm(drive),
    )
    up = ball - half_gap if isinstance(drive, OneWheel) else 0.0
    return (-math.sqrt(max((radius + ball) ** 2 - (radius + half_gap - up) ** 2, 0.0)), up)


def _sizes(
    at: _Place, drive: Wheeled, build: Build, box: tuple[float, float, float, float, float]
) -> list[Element]:
    back, front, top, bottom, mouth = box
    radius, half_gap, half = 500 * drive.wheel_diameter_m, _half_gap_mm(drive), 500 * chute_m()
    axle = half_gap + radius
    nearest = nearest_wheel_mm(drive)
    return [
        dimension(at(-radius, axle), at(radius, axle), f"wheel Ø {2 * radius:.0f}", off=14),
        dimension(at(0, half_gap), at(0, -half_gap), f"gap {2 * half_gap:.0f}", off=16),
        dimension(at(back, top), at(front, top), f"{front - back:.0f}", off=26),
        dimension(at(back, -bottom), at(back, top), f"{top + bottom:.0f}", off=40),
        dimension(at(radius, axle), at(front, axle), f"{build.guard_mm:.0f}", off=-34),
        dimension(at(nearest, half), at(mouth, half), f"tunnel {build.tunnel_mm:.0f}", off=26),
        dimension(at(mouth, -half), at(mouth, half), f"{2 * half:.0f}", off=-60),
    ]


def _notes(drive: Wheeled, build: Build) -> list[str]:
    behind = reach_mm(build.mesh_mm)
    arm = reach_mm(1000 * chute_m())
    reached = "past the table" if behind is None else f"{behind:g} mm"
    of_three = ["Two of the three wheels, drawn as if they stood opposite each other."]
    return [
        *(of_three if isinstance(drive, ThreeWheels) else []),
        f"Mesh of {build.mesh_mm:g} mm, square: a finger reaches {reached} behind it; it stands "
        f"{build.guard_mm:g} mm from the wheels.",
        f"Through the mouth an arm reaches {arm or 0:g} mm (ISO 13857:2019, Table 4): a shorter "
        "tunnel does not keep it out; see the guide.",
        "The guard is fixed with a tool, holds a wheel that bursts, and is on whenever the motors "
        "have power.",
    ]
