"""Aiming with the speed left open: a landing and an apex, a flight time or a contact point.

Through each landing goes one family of throws, one for every elevation: the steeper, the slower at
first, then faster again, and always the higher and the longer in the air. The wished apex, time or
height at contact picks one of them. Newton's steps in speed and elevation find it from a first
guess; where they do not settle, the family is looked at throughout.
"""

from __future__ import annotations

import msgspec
import numpy as np

from feedscript.flight.aim.aiming import ELEVATIONS_DEG, Aims, aims_at
from feedscript.flight.aim.family import Family, drag_free_m, possible
from feedscript.flight.aim.look_through import look_through
from feedscript.flight.aim.newton import newton
from feedscript.flight.aim.targets import Targets
from feedscript.flight.air import STANDARD_GRAVITY
from feedscript.flight.bounce import Surface
from feedscript.flight.contact import behind_bounce
from feedscript.flight.launches import Launches
from feedscript.flight.models import Array, Lanes, Mask
from feedscript.flight.motion.conditions import Conditions
from feedscript.flight.motion.flights import Flights, fly, land


class WishedAims(msgspec.Struct, frozen=True, eq=False):
    """How to throw. ``aims`` is as from ``aim``; its launches carry the speeds that were found.

    Where ``reachable`` is False there may be no throw at all (NaN); ``least`` and ``most`` are the
    values (apex or contact height in m, time in s) that throws to this landing can have, NaN if
    none lands there.
    """

    aims: Aims
    speed_mps: Array
    value: Array
    reachable: Mask
    least: Array
    most: Array


def aim_for_apex(
    targets: Targets,
    apex_m: Array,
    conditions: Conditions,
    *,
    elevations_deg: tuple[float, float] = ELEVATIONS_DEG,
    by_wheels: bool = True,
) -> WishedAims:
    """Throws that land at the targets and rise to ``apex_m`` (the ball's centre) on the way."""

    def measure(launches: Launches, _lanes: Lanes) -> tuple[Flights, Array]:
        flights = fly(launches, conditions)
        return flights, flights.apex_m

    rise = np.sqrt(2 * STANDARD_GRAVITY * np.maximum(apex_m - targets.mouth_z_m, 1e-4))
    fall_s = np.sqrt(2 * np.maximum(apex_m - conditions.ball.radius_m, 1e-3) / STANDARD_GRAVITY)
    family = Family(targets, apex_m, conditions, measure, elevations_deg, by_wheels)
    return _solve(family, rise, rise / STANDARD_GRAVITY + fall_s)


def aim_for_time(
    targets: Targets,
    flight_s: Array,
    conditions: Conditions,
    *,
    elevations_deg: tuple[float, float] = ELEVATIONS_DEG,
    by_wheels: bool = True,
) -> WishedAims:
    """Throws that land at the targets ``flight_s`` after they left."""

    def measure(launches: Launches, _lanes: Lanes) -> tuple[Flights, Array]:
        flights = land(launches, conditions)
        return flights, flights.flight_s

    drop = conditions.ball.radius_m - targets.mouth_z_m
    rise = drop / flight_s + STANDARD_GRAVITY * flight_s / 2
    family = Family(targets, flight_s, conditions, measure, elevations_deg, by_wheels)
    return _solve(family, rise, flight_s)


def aim_for_contact(
    targets: Targets,
    height_m: Array,
    behind_m: Array,
    conditions: Conditions,
    surface: Surface,
    *,
    elevations_deg: tuple[float, float] = ELEVATIONS_DEG,
    by_wheels: bool = True,
) -> WishedAims:
    """Throws that land at the targets and are ``height_m`` high ``behind_m`` behind the bounce.

    Of several, the flattest; for targets with ``high`` the steepest.
    """

    def measure(launches: Launches, lanes: Lanes) -> tuple[Flights, Array]:
        flights = land(launches, conditions)
        met = behind_bounce(flights, behind_m[lanes], conditions, surface)
        return flights, met.place_m[2]

    family = Family(targets, height_m, conditions, measure, elevations_deg, by_wheels)
    return _solve(family, None, None)


def _solve(family: Family, rise_mps: Array | None, time_s: Array | None) -> WishedAims:
    count = len(family.targets)
    least, most = np.full((2, count), np.nan)
    state = np.full((3, count), np.nan)  # log speed, elevation, azimuth
    settled = np.zeros(count, dtype=bool)
    if rise_mps is not None and time_s is not None:
        level = drag_free_m(family) / time_s
        guess = np.stack(
            [
                np.log(np.hypot(level, rise_mps)),
                np.degrees(np.arctan2(rise_mps, level)),
                family.targets.bearing_deg,
            ]
        )
        state, settled = newton(family, np.arange(count), guess)
        settled &= possible(state[0])
    rest = np.flatnonzero(~settled)
    if rest.size:
        start, at_top, least[rest], most[rest] = look_through(family, rest)
        able = np.flatnonzero(np.isfinite(start[0]) & ~at_top)
        state[:, rest], settled[rest] = start, at_top
        if able.size:
            found, good = newton(family, rest[able], start[:, able])
            state[:, rest[able]], settled[rest[able]] = found, good
    return _finished(family, state, settled, least, most)


def _finished(family: Family, state: Array, settled: Mask, least: Array, most: Array) -> WishedAims:
    speed = np.exp(state[0])
    targets = family.targets.at_speed(speed)
    aims = aims_at(targets, state[1], state[2], family.conditions, by_wheels=family.by_wheels)
    _, value = family.measure(aims.launches, np.arange(len(targets)))
    reachable = (
        settled & aims.reachable & possible(state[0]) & (np.abs(value - family.wished) < 1e-3)
    )
    return WishedAims(aims, speed, value, reachable, least, most)
