"""What a launcher can reach: speed against spin, and where its elevations carry the ball."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence

import numpy as np
from numpy.typing import NDArray

from feedscript.flight.launches import Launches
from feedscript.flight.motion.flights import land
from feedscript.launcher.envelope import SpinAt, envelope
from feedscript.launcher.kinematics import natural_spin
from feedscript.launcher.profile.drives import Range
from feedscript.launcher.profile.model import Profile
from feedscript.launcher.steps import step_balls
from feedscript.launcher.throw import Throw
from feedscript.review.drawing.axes import Axes
from feedscript.review.drawing.launcher.head_view import head_picture
from feedscript.review.drawing.palette import COLOURS, DASHES, INK, PAPER, SOFT_INK
from feedscript.review.drawing.svg import (
    Element,
    Point,
    circle,
    document,
    polygon,
    polyline,
    rectangle,
    text,
    width_of,
)
from feedscript.told_units import speed_told, speed_words

Array = NDArray[np.float64]

_WIDTH, _HEIGHT = 1200.0, 496.0
_PANEL, _TALL, _TOP = 312.0, 300.0, 126.0
_LEFTS = (70.0, 466.0, 862.0)
#: Where the ball bounces, metres from the mouth: from the net to past the far baseline.
_CARRIES_M = (3.0, 6.0, 9.0, 12.0, 15.0, 18.0, 21.0, 24.0, 27.0, 30.0)
_SPEEDS, _ELEVATIONS = 48, 120


def envelope_picture(profile: Profile) -> Element:
    """An SVG of the launcher's reach, inside its drives and limits both."""
    limits = profile.limits
    speeds = _padded(limits.speed_mps)
    parts: list[Element] = [
        rectangle((0, 0), _WIDTH, _HEIGHT, fill=PAPER),
        text((_LEFTS[0], 34), profile.name, fill=INK, font_size=20, font_weight="bold"),
        text((_LEFTS[0], 58), _facts(profile), fill=SOFT_INK, font_size=12),
    ]
    parts += head_picture(profile.drive, (_LEFTS[2] + _PANEL - 130, 6), 130, 92)
    for left, side in ((_LEFTS[0], False), (_LEFTS[1], True)):
        parts += _spin_panel(profile, left, speeds, side=side)
    parts += _carry_panel(profile, _LEFTS[2], speeds)
    label = f"{profile.name}: speeds and spins it can throw, and how far the ball carries"
    return document(_WIDTH, _HEIGHT, parts, label=label)


def _facts(profile: Profile) -> str:
    limits = profile.limits
    return (
        f"{profile.kind}; {speed_told(limits.speed_mps.least):.0f} to "
        f"{speed_words(limits.speed_mps.most)}; {_turns(profile)}; "
        f"a ball every {limits.least_interval_s:g} s at most; {limits.hopper_balls} balls"
    )


def _turns(profile: Profile) -> str:
    if profile.sweep is not None:
        band = profile.sweep.band_deg
        return f"swings by itself, {band.least:g} to {band.most:g}\u00b0"
    pans = profile.limits.azimuth_deg
    return f"pans {pans.least:g} to {pans.most:g}\u00b0"


def _padded(allowed: Range) -> Range:
    return Range(0.0, math.ceil(allowed.most / 5) * 5)


def _spin_panel(profile: Profile, left: float, speeds: Range, *, side: bool) -> Iterable[Element]:
    limits = profile.limits
    allowed = limits.side_rpm if side else limits.spin_rpm
    most = max(1000.0, math.ceil(max(abs(allowed.least), abs(allowed.most)) / 500) * 500)
    axes = Axes(left, _TOP, _PANEL, _TALL, speeds.least, speeds.most, -most * 1.12, most * 1.12)
    heading = "speed and side spin" if side else "speed and topspin or backspin"
    words = "side, rpm (to ad upwards)" if side else "top, rpm (back downwards)"
    yield from axes.frame(heading, "speed, m/s", words)
    found = envelope(profile, side=side)
    colour = COLOURS[1] if side else COLOURS[0]
    if profile.drive.steps:
        yield from _dots(axes, profile, colour, side=side)
    else:
        yield from _region(axes, found, colour)
    if not found or all(at.spin_rpm.most - at.spin_rpm.least < 1 for at in found):
        note = "no side spin" if side else "the spin follows from the speed"
        if not side and found and max(abs(at.spin_rpm.most) for at in found) < 1:
            note = "no spin"
        x, y = axes.at(speeds.least, -most * 1.12)
        yield text(
            (x + 8, y - 12), note, fill=INK, font_size=12, stroke=PAPER, stroke_width=4,
            paint_order="stroke",
        )  # fmt: skip


def _dots(axes: Axes, profile: Profile, colour: str, *, side: bool) -> Iterable[Element]:
    """A dot for each ball of the steps that spins in this panel's way alone, if it can choose."""
    limits = profile.limits
    level = Throw(speed_mps=limits.speed_mps.most, elevation_deg=0.0, azimuth_deg=0.0)
    allowed = limits.side_rpm if side else limits.spin_rpm
    follows = natural_spin(profile.drive, limits.speed_mps.most) is not None
    for ball in step_balls(profile, level):
        spin, other = (ball.side_rpm, ball.top_rpm) if side else (ball.top_rpm, ball.side_rpm)
        within = limits.speed_mps.holds(ball.speed_mps) and allowed.holds(spin)
        if within and (follows or abs(other) < 1):
            yield circle(axes.at(ball.speed_mps, spin), 4, fill=colour)


def _region(axes: Axes, found: Sequence[SpinAt], colour: str) -> Iterable[Element]:
    upper = [axes.at(at.speed_mps, at.spin_rpm.most) for at in found]
    lower = [axes.at(at.speed_mps, at.spin_rpm.least) for at in found]
    if upper:
        yield polygon(
            [*upper, *reversed(lower)], fill=colour, fill_opacity=0.25, stroke=colour,
            stroke_width=2, stroke_linejoin="round",
        )  # fmt: skip


def _carry_panel(profile: Profile, left: float, speeds: Range) -> Iterable[Element]:
    tilt = profile.limits.elevation_deg
    low, high = math.floor(tilt.least / 10) * 10, math.ceil(tilt.most / 10) * 10
    axes = Axes(left, _TOP, _PANEL, _TALL, speeds.least, speeds.most, low, high)
    natural = natural_spin(profile.drive, 20.0)
    spin = "with its own spin" if natural and abs(natural[0]) > 1 else "without spin"
    yield from axes.frame("speed, elevation and carry", "speed, m/s", "elevation, degrees")
    limits = profile.limits.speed_mps
    corner = axes.at(limits.least, tilt.most)
    end = axes.at(limits.most, tilt.least)
    yield rectangle(
        corner, end[0] - corner[0], end[1] - corner[1], fill=COLOURS[2], fill_opacity=0.12,
        stroke=COLOURS[2], stroke_width=1.5,
    )  # fmt: skip
    for carry, points in carry_lines(profile):
        drawn = [axes.at(speed, elevation) for speed, elevation in points]
        named = carry % 6 == 0
        dash = None if named else DASHES[1]
        yield polyline(drawn, stroke=INK, stroke_width=1.2, stroke_dasharray=dash)
        if named:
            yield from _on_line(drawn, f"{carry:g} m", corner, end)
    yield text(
        (left + _PANEL / 2, _TOP + _TALL + 54),
        f"each 3 m from mouth to bounce, {spin}, still air",
        fill=SOFT_INK, font_size=11, text_anchor="middle",
    )  # fmt: skip


def _on_line(points: Sequence[Point], words: str, corner: Point, end: Point) -> Iterable[Element]:
    """Words where the line crosses the limits' rising diagonal, which parts them best."""

    def off(point: Point) -> float:
        share = (point[0] - corner[0]) / (end[0] - corner[0])
        return abs((end[1] - point[1]) / (end[1] - corner[1]) - share)

    x, y = min(points, key=off)
    room = width_of(words, 10)
    yield rectangle((x - room / 2, y - 7), room, 13, fill=PAPER, fill_opacity=0.85, rx=2)
    yield text((x, y + 3.5), words, fill=INK, font_size=10, text_anchor="middle")


def carry_lines(profile: Profile) -> list[tuple[float, list[Point]]]:
    """For each carry, the (speed, elevation) that give it, from low elevations to high.

    At one elevation a faster ball always carries farther, so each elevation has one speed.
    """
    limits = profile.limits
    speeds = np.linspace(limits.speed_mps.least, limits.speed_mps.most, _SPEEDS)
    angles = np.linspace(limits.elevation_deg.least, limits.elevation_deg.most, _ELEVATIONS)
    carried = _carried(profile, speeds, angles)
    lines = []
    for carry in _CARRIES_M:
        points = [
            (float(np.interp(carry, row, speeds)), float(angle))
            for angle, row in zip(angles, carried, strict=True)
            if row[0] <= carry <= row[-1]
        ]
        if len(points) > 3:
            lines.append((carry, points))
    return lines


def _carried(profile: Profile, speeds: Array, angles: Array) -> Array:
    """How far from the mouth a ball bounces; rows are elevations, columns speeds."""
    spins = np.array([natural_spin(profile.drive, float(speed)) or (0.0, 0.0) for speed in speeds])
    angle, speed = np.meshgrid(angles, speeds, indexing="ij")
    level = np.cos(np.radians(angle))
    top, side = spins[:, 0] * np.ones_like(angle), spins[:, 1] / level
    flights = land(
        Launches.of(
            speed.ravel(), angle.ravel(), top_rpm=top.ravel(), side_rpm=side.ravel(),
            z_m=profile.mouth_height_m,
        ).thrown_by_wheels()
    )  # fmt: skip
    return flights.landing_y_m.reshape(speed.shape)
