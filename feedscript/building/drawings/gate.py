"""The gate: two fingers on a rocker, one of them always down. Shut without power, by a spring."""

from __future__ import annotations

from feedscript.building.build_file import Build
from feedscript.building.drawings.dimension import BALL, CUT, GHOST, dimension, note, sheet
from feedscript.building.feed_path import finger_above_m
from feedscript.flight.ball import DEFAULT_BALL
from feedscript.review.drawing.palette import INK
from feedscript.review.drawing.svg import Element, circle, line, polyline, rectangle

_PX_PER_MM = 1.3
_WIDTH, _HEIGHT = 900.0, 405.0
#: How far below a ball's middle the front finger's tip stands, and above a ball that passes. Design
#: values.
BELOW_MM, CLEAR_MM = 5.0, 4.0
#: Balls differ by so much, so that where two touch is not always the same place.
SPREAD_MM = 10 * (DEFAULT_BALL.diameter_cm.most - DEFAULT_BALL.diameter_cm.least)


def stroke_mm() -> float:
    """How far a finger moves: the front one from below a ball's middle to above its top."""
    return BELOW_MM + 5 * DEFAULT_BALL.diameter_cm.most + CLEAR_MM


def rear_tip_mm(build: Build) -> float:
    """The rear finger's tip, down, above the balls' middle: there it fits between any two."""
    return 1000 * finger_above_m(build.finger_mm + SPREAD_MM)


def gate_sheet(build: Build) -> str:
    """The drawing as SVG: shut at the left, open at the right."""
    notes = [
        f"Fingers {build.finger_mm:g} mm thick, on one rocker: when one goes up the other goes "
        f"down, {stroke_mm():.0f} mm each.",
        f"The rear one goes down where two balls touch, no deeper than {rear_tip_mm(build):.0f} mm "
        f"above their middle: balls differ by {SPREAD_MM:.1f} mm, and one that is wedged jams.",
        "A spring holds the front finger down; the coil or servo only lifts it. No power, no ball.",
    ]
    drawn = [*_position(150.0, build, is_open=False), *_position(560.0, build, is_open=True)]
    return sheet(_WIDTH, _HEIGHT, "Gate, shut and open, from the side; mm", notes, drawn)


def _position(left: float, build: Build, *, is_open: bool) -> list[Element]:
    ball = 1000 * DEFAULT_BALL.diameter_m
    radius, floor = ball / 2 * _PX_PER_MM, 350.0
    middle = floor - radius
    face = left + 2 * ball * _PX_PER_MM  # of the front finger, where the first ball stops
    stroke = stroke_mm() * _PX_PER_MM
    front_tip = middle + BELOW_MM * _PX_PER_MM - (stroke if is_open else 0.0)
    rear_tip = middle - rear_tip_mm(build) * _PX_PER_MM - (0.0 if is_open else stroke)
    rear = face - ball * _PX_PER_MM
    thick = build.finger_mm * _PX_PER_MM
    passing = 40.0 * _PX_PER_MM if is_open else 0.0
    balls = [
        circle((face - radius + passing, middle), radius, **(GHOST if is_open else BALL)),
        circle((face - 3 * radius, middle), radius, **BALL),
    ]
    pivot = ((face + rear) / 2, middle - radius - 1.35 * stroke)
    front_top, rear_top = front_tip - 2 * stroke, rear_tip - 1.35 * stroke
    fingers = [
        rectangle((face, front_top), thick, front_tip - front_top, **CUT),
        rectangle((rear - thick / 2, rear_top), thick, rear_tip - rear_top, **CUT),
        line((face + thick / 2, front_top + 6), (rear, rear_top + 6), stroke=INK, stroke_width=4),
        circle(pivot, 6.0, **CUT),
    ]
    ground = polyline([(left - 20, floor), (face + 80, floor)], stroke=INK, stroke_width=3)
    words = note((left - 20, 74.0), "open: one ball passes" if is_open else "shut, without power")
    return [ground, *balls, *fingers, words, *_sizes(build, left, face, floor, is_open=is_open)]


def _sizes(build: Build, left: float, face: float, floor: float, *, is_open: bool) -> list[Element]:
    ball = 1000 * DEFAULT_BALL.diameter_m
    radius = ball / 2 * _PX_PER_MM
    rear = face - ball * _PX_PER_MM
    middle = floor - radius
    if is_open:
        tip = middle - rear_tip_mm(build) * _PX_PER_MM
        return [
            dimension((rear, middle), (rear, tip), f"{rear_tip_mm(build):.0f}", off=60),
            dimension(
                (face, middle + BELOW_MM * _PX_PER_MM),
                (face, middle + (BELOW_MM - stroke_mm()) * _PX_PER_MM),
                f"stroke {stroke_mm():.0f}", off=-74,
            ),
        ]  # fmt: skip
    tip = middle + BELOW_MM * _PX_PER_MM
    return [
        dimension((rear, floor), (face, floor), f"{ball:.0f}", off=-26),
        dimension((left, floor), (rear, floor), f"ball Ø {ball:.0f}", off=-26),
        dimension((face, tip), (face, middle), f"{BELOW_MM:g}", off=-56, beside=14),
    ]
