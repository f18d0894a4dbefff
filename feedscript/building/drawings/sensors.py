"""Where each sensor sits: along the ball's way, from the hopper to the mouth."""

from __future__ import annotations

from collections.abc import Callable
from typing import TypeAlias

from feedscript.building.build_file import Build
from feedscript.building.drawings.dimension import BALL, CUT, GHOST, SEEN, dimension, note, sheet
from feedscript.building.drawings.guard import nearest_wheel_mm
from feedscript.building.feed_path import chute_m, gate_to_wheels_m
from feedscript.building.wheels import Wheeled
from feedscript.flight.ball import DEFAULT_BALL
from feedscript.launcher.profile.drives import OneWheel
from feedscript.launcher.profile.model import Profile
from feedscript.review.drawing.palette import COLOURS, INK, PAPER
from feedscript.review.drawing.svg import Element, Point, circle, group, line, rectangle, text

_PX_PER_MM = 1.1
_LEFT, _ABOVE = 60.0, 80.0
_BALL_MM = 1000 * DEFAULT_BALL.diameter_m
_PAD_MM = 12.0
_INSIDE_MM = 25.0  # of the beam, in the tunnel
_COLOUR = COLOURS[0]
#: From millimetres (x to the mouth from the axles, y up from the balls' middle) to the picture.
_Place: TypeAlias = Callable[[float, float], Point]


def beam_mm(drive: Wheeled, build: Build) -> float:
    """The light barrier, from the axles to the mouth: inside of the tunnel, and at least a whole
    ball behind where a wheel ends, so that a ball that breaks the beam has left the wheels."""
    tunnel_mm = 500 * drive.wheel_diameter_m + build.guard_mm
    return max(nearest_wheel_mm(drive) + _BALL_MM, tunnel_mm + _INSIDE_MM)


def _rest_mm(drive: Wheeled) -> float:
    """The balls' middle above the middle of the gap: on a pad they lie, pressed or not."""
    return _BALL_MM / 2 - 500 * drive.gap_m if isinstance(drive, OneWheel) else 0.0


def sensors_sheet(profile: Profile, drive: Wheeled, build: Build) -> str:
    """The drawing as SVG."""
    radius, half_gap = 500 * drive.wheel_diameter_m, 500 * drive.gap_m
    gate = -1000 * gate_to_wheels_m(profile, build) - radius / 2
    back, top = gate - 2.4 * _BALL_MM, half_gap + 2 * radius
    mouth = max(nearest_wheel_mm(drive) + build.tunnel_mm, beam_mm(drive, build) + _BALL_MM)
    below = half_gap + 60 if isinstance(drive, OneWheel) else top

    def at(x_mm: float, y_mm: float) -> Point:
        return (_LEFT + (x_mm - back) * _PX_PER_MM, _ABOVE + (top - y_mm) * _PX_PER_MM)

    half, rest = 500 * chute_m(), _rest_mm(drive)

    def way(x_mm: float, y_mm: float) -> Point:
        """The same, y up from the balls' middle."""
        return at(x_mm, y_mm + rest)

    drawn = [
        *_walls(way, (back, gate + _BALL_MM / 3), half),
        *_walls(way, (radius + build.guard_mm, mouth), half),
        *_wheels(at, drive),
        *_balls(way, beam_mm(drive, build), gate),
        line(way(gate, half + 34), way(gate, -5), stroke=INK, stroke_width=5),
        note((way(gate, half + 40)[0] - 10, way(gate, half + 40)[1]), "gate", anchor="end"),
        *_marks(way, beam_mm(drive, build), gate, half),
        *_on_wheels(at, drive),
        dimension(
            way(0, -half),
            way(beam_mm(drive, build), -half),
            f"{beam_mm(drive, build):.0f}",
            off=-46,
        ),
    ]
    width = (mouth - back) * _PX_PER_MM + _LEFT + 60
    height = _ABOVE + (top + below) * _PX_PER_MM + 16
    return sheet(width, height, "Where the sensors sit; mm", _notes(profile), drawn)


def _notes(profile: Profile) -> list[str]:
    covered_ms = _BALL_MM / profile.limits.speed_mps.most
    return [
        "1 ball on the gate: a lever that the waiting ball presses. 2 tachometer: a disc on the "
        "wheel's own axle, one for each wheel. 3 ball sensor: a beam across the tunnel, through "
        f"the balls' middle; the fastest ball covers it for {covered_ms:.1f} ms. 4 temperature: on "
        "the hotter motor's case.",
        "The beam is a whole ball behind the wheels, so that what breaks it has left them; nothing "
        "may come to rest there, and no sun falls in.",
    ]


def _walls(at: _Place, ends: tuple[float, float], half: float) -> list[Element]:
    return [
        line(at(ends[0], side * half), at(ends[1], side * half), stroke=INK, stroke_width=3)
        for side in (1, -1)
    ]


def _wheels(at: _Place, drive: Wheeled) -> list[Element]:
    radius, half_gap = 500 * drive.wheel_diameter_m, 500 * drive.gap_m
    px = radius * _PX_PER_MM
    upper = circle(at(0, half_gap + radius), px, **SEEN)
    if isinstance(drive, OneWheel):
        return [upper, rectangle(at(-radius, -half_gap), 2 * px, _PAD_MM * _PX_PER_MM, **CUT)]
    return [upper, circle(at(0, -half_gap - radius), px, **SEEN)]


def _balls(way: _Place, beam: float, gate: float) -> list[Element]:
    """Two that wait, and one that breaks the beam."""
    px = _BALL_MM / 2 * _PX_PER_MM
    waiting = [circle(way(gate - _BALL_MM * (each + 0.5), 0), px, **BALL) for each in range(2)]
    return [*waiting, circle(way(beam, 0), px, **GHOST)]


def _marks(way: _Place, beam: float, gate: float, half: float) -> list[Element]:
    return [
        _mark(way(gate - _BALL_MM / 2, -half - 14), "1", "ball on the gate", beside=True),
        line(way(beam, half + 4), way(beam, -half - 4), stroke=_COLOUR,
             stroke_width=2.4, stroke_dasharray="3 3"),
        _mark(way(beam, half + 16), "3", "ball sensor", beside=False),
    ]  # fmt: skip


def _on_wheels(at: _Place, drive: Wheeled) -> list[Element]:
    radius, half_gap = 500 * drive.wheel_diameter_m, 500 * drive.gap_m
    axles = [half_gap + radius, *([] if isinstance(drive, OneWheel) else [-half_gap - radius])]
    return [
        *(_mark(at(0, y), "2", "tachometer", beside=False) for y in axles),
        _mark(at(0, half_gap + radius * 1.55), "4", "temperature", beside=False),
    ]


def _mark(place: Point, number: str, words: str, *, beside: bool) -> Element:
    x, y = place
    return group([
        circle(place, 11.0, fill=_COLOUR),
        text((x, y + 5.0), number, text_anchor="middle", font_size=14, font_weight="bold",
             fill=PAPER),
        note((x - 17.0, y + 5.0) if beside else (x, y - 17.0), words,
             anchor="end" if beside else "middle"),
    ])  # fmt: skip
