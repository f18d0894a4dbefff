"""The chute from the hopper to the wheels: its slope and length from the side, and cut across."""

from __future__ import annotations

import math

from feedscript.building.build_file import Build
from feedscript.building.drawings.dimension import BALL, CUT, GHOST, SEEN, dimension, note, sheet
from feedscript.building.feed_path import chute_m, gate_to_wheels_m, hopper_litres
from feedscript.flight.ball import DEFAULT_BALL
from feedscript.launcher.profile.model import Profile
from feedscript.review.drawing.palette import INK
from feedscript.review.drawing.svg import Element, Point, circle, line, polygon, rectangle

_PX_PER_MM = 1.3
_WAITING = 3  # balls drawn behind the gate
_WIDTH, _HEIGHT = 900.0, 370.0


def chute_sheet(profile: Profile, build: Build) -> str:
    """The drawing as SVG."""
    notes = [
        f"Hopper: {hopper_litres(profile, build):.0f} litres for {profile.limits.hopper_balls} "
        "balls, its walls steeper than 45° and without edges, or balls bridge (common practice).",
        "Length from a ball that rolls in the profile's gate_lead_s; where wheels or a pusher take "
        "it sooner, measure and correct the profile.",
    ]
    drawn = [*_side(profile, build), *_across(build)]
    return sheet(_WIDTH, _HEIGHT, "Chute, from the side and cut across; mm", notes, drawn)


def _side(profile: Profile, build: Build) -> list[Element]:
    slope = math.radians(build.chute_deg)
    down, up = (math.cos(slope), math.sin(slope)), (math.sin(slope), -math.cos(slope))
    inside, ball = 1000 * chute_m(), 1000 * DEFAULT_BALL.diameter_m
    roll = 1000 * gate_to_wheels_m(profile, build)

    def at(along_mm: float, above_mm: float) -> Point:
        """Millimetres along the floor from the gate, and above it, at right angles to it."""
        x = 420.0 + (along_mm * down[0] + above_mm * up[0]) * _PX_PER_MM
        return (x, 250.0 + (along_mm * down[1] + above_mm * up[1]) * _PX_PER_MM)

    start, end = -_WAITING * ball - 30, roll + ball / 2
    thick = build.plate_mm
    walls = [
        polygon([at(start, 0), at(end, 0), at(end, -thick), at(start, -thick)], **CUT),
        polygon(
            [at(start, inside), at(end, inside), at(end, inside + 4), at(start, inside + 4)], **CUT
        ),
    ]
    balls = [
        circle(at(-ball / 2 - each * ball, ball / 2), ball / 2 * _PX_PER_MM, **BALL)
        for each in range(_WAITING)
    ]
    taken = circle(at(roll - ball / 2, ball / 2), ball / 2 * _PX_PER_MM, **GHOST)
    gate = line(at(0, inside + 22), at(0, 12), stroke=INK, stroke_width=5)
    floor = at(start, -thick)
    level = line(floor, (floor[0] + 190, floor[1]), **GHOST)
    return [
        *walls, *balls, taken, gate, level,
        note((floor[0] + 196, floor[1] + 5), f"{build.chute_deg:g}°"),
        note(at(0, inside + 34), "gate", anchor="middle"),
        note(at(start - 8, inside / 2), "hopper", anchor="end"),
        dimension(at(0, -thick), at(roll, -thick), f"{roll:.0f}", off=-26),
        note((at(0, -thick)[0] - 46, at(roll, -thick)[1] + 56), "to where the wheels take it"),
        dimension(at(end, 0), at(end, inside), f"{inside:.0f}", off=-30),
    ]  # fmt: skip


def _across(build: Build) -> list[Element]:
    inside, ball, thick = 1000 * chute_m(), 1000 * DEFAULT_BALL.diameter_m, build.plate_mm
    left, floor = 690.0, 270.0
    px = inside * _PX_PER_MM
    wall = thick * _PX_PER_MM
    return [
        rectangle((left - wall, floor - px), wall, px + wall, **CUT),
        rectangle((left + px, floor - px), wall, px + wall, **CUT),
        rectangle((left, floor), px, wall, **CUT),
        circle((left + px / 2, floor - ball / 2 * _PX_PER_MM), ball / 2 * _PX_PER_MM, **BALL),
        rectangle((left, floor - px), px, px, **{**SEEN, "stroke_width": 0.5}),
        dimension((left, floor - px), (left + px, floor - px), f"inside {inside:.0f}", off=24),
        dimension(
            (left + px + wall, floor), (left + px + wall, floor - px), f"{inside:.0f}", off=-24
        ),
        dimension((left - wall, floor + wall), (left, floor + wall), f"{thick:g}", off=-20),
    ]
