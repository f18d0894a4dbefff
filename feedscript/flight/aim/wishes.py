"""Aiming with the speed left open: a landing and an apex, a flight time or a contact point.

Through each landing goes one family of throws, one for every elevation: the steeper, the slower at
first, then faster again, and always the higher and the longer in the air. The wished apex, time or
height at contact picks one of them. Newton's steps in speed and elevation find it from a first
guess; where they do not settle, the family is looked at throughout.
"""

from __future__ import annotations

from collections.abc import Callable

import msgspec
import numpy as np

from feedscript.flight.aim.aiming import ELEVATIONS_DEG, Aims, aims_at
from feedscript.flight.aim.reach import SPEEDS_MPS
from feedscript.flight.aim.targets import Targets
from feedscript.flight.air import STANDARD_GRAVITY
from feedscript.flight.bounce import Surface
from feedscript.flight.conditions import Conditions
from feedscript.flight.contact import behind_bounce
from feedscript.flight.launches import Launches
from feedscript.flight.models import Array, Lanes, Mask
from feedscript.flight.motion.flights import Flights, fly, land

_CLOSE_M = 2e-5
_CLOSE_VALUE = 2e-6  # m or s
_NEWTON_ROUNDS = 14
_FAMILY = 31  # elevations looked at where Newton fails
_SAME_VALUE = 1e-3  # a wish so little beyond the top of what can be had is the top: 1 mm, 1 ms
_SPEED_ROUNDS = 9
_NUDGE_LOG, _NUDGE_DEG = 2e-3, 0.1

#: What a thrown ball comes to, beside its landing: of launches, for some of the wishes.
Measure = Callable[[Launches, Lanes], tuple[Flights, Array]]


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


class _Family(msgspec.Struct, frozen=True, eq=False):
    targets: Targets
    wished: Array
    conditions: Conditions
    measure: Measure
    elevations_deg: tuple[float, float]
    by_wheels: bool

    def throw(
        self, lanes: Lanes, log_speed: Array, elevation: Array, azimuth: Array
    ) -> tuple[Array, Array, Array]:
        """How far past (m), how far right (degrees), and the value over the wish."""
        targets = self.targets.some(lanes).at_speed(np.exp(log_speed))
        launches = targets.launches(elevation, azimuth, by_wheels=self.by_wheels)
        flights, value = self.measure(launches, lanes)
        x = flights.landing_x_m - targets.mouth_x_m
        y = flights.landing_y_m - targets.mouth_y_m
        turn = np.degrees(np.arctan2(x, y)) - targets.bearing_deg
        right = (turn + 180) % 360 - 180
        return np.hypot(x, y) - targets.distance_m, right, value - self.wished[lanes]


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
    family = _Family(targets, apex_m, conditions, measure, elevations_deg, by_wheels)
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
    family = _Family(targets, flight_s, conditions, measure, elevations_deg, by_wheels)
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

    family = _Family(targets, height_m, conditions, measure, elevations_deg, by_wheels)
    return _solve(family, None, None)


def _solve(family: _Family, rise_mps: Array | None, time_s: Array | None) -> WishedAims:
    count = len(family.targets)
    least, most = np.full((2, count), np.nan)
    state = np.full((3, count), np.nan)  # log speed, elevation, azimuth
    settled = np.zeros(count, dtype=bool)
    if rise_mps is not None and time_s is not None:
        level = _stretched(family) / time_s
        guess = np.stack(
            [
                np.log(np.hypot(level, rise_mps)),
                np.degrees(np.arctan2(rise_mps, level)),
                family.targets.bearing_deg,
            ]
        )
        state, settled = _newton(family, np.arange(count), guess)
        settled &= _possible(state[0])
    rest = np.flatnonzero(~settled)
    if rest.size:
        start, at_top, least[rest], most[rest] = _look_through(family, rest)
        able = np.flatnonzero(np.isfinite(start[0]) & ~at_top)
        state[:, rest], settled[rest] = start, at_top
        if able.size:
            found, good = _newton(family, rest[able], start[:, able])
            state[:, rest[able]], settled[rest[able]] = found, good
    return _finished(family, state, settled, least, most)


def _finished(
    family: _Family, state: Array, settled: Mask, least: Array, most: Array
) -> WishedAims:
    speed = np.exp(state[0])
    targets = family.targets.at_speed(speed)
    aims = aims_at(targets, state[1], state[2], family.conditions, by_wheels=family.by_wheels)
    _, value = family.measure(aims.launches, np.arange(len(targets)))
    reachable = (
        settled & aims.reachable & _possible(state[0]) & (np.abs(value - family.wished) < 1e-3)
    )
    return WishedAims(aims, speed, value, reachable, least, most)


def _possible(log_speed: Array) -> Mask:
    """Whether a speed is one that a launcher might throw."""
    low, high = np.log(SPEEDS_MPS)
    inside: Mask = (log_speed >= low) & (log_speed <= high)
    return inside


def _stretched(family: _Family) -> Array:
    """The way a ball would go in the time drag lets it go the distance."""
    ball, model = family.conditions.ball, family.conditions.model
    per_m = family.conditions.air.density_kgm3 * ball.area_m2 / (2 * ball.mass_kg)
    per_m *= float(model.drag(np.array([0.1]))[0]) * ball.wear.drag_factor
    distance = family.targets.distance_m
    return distance if per_m == 0 else np.expm1(np.minimum(per_m * distance, 3.0)) / per_m


def _newton(family: _Family, lanes: Lanes, start: Array) -> tuple[Array, Mask]:
    """Speed, elevation and azimuth from a start near enough, and whether they settled."""
    state, settled = start.copy(), np.zeros(len(lanes), dtype=bool)
    low, high = family.elevations_deg
    here = np.arange(len(lanes))
    for _ in range(_NEWTON_ROUNDS):
        log_speed, elevation, azimuth = state[:, here]
        past, right, over, jacobian = _linearised(family, lanes[here], state[:, here])
        good = (np.abs(past) < _CLOSE_M) & (np.abs(over) < _CLOSE_VALUE)
        if not family.conditions.still:
            reach = family.targets.distance_m[lanes[here]]
            good &= np.abs(np.radians(right)) * reach < _CLOSE_M
        settled[here] = good
        (a, b), (c, d) = jacobian
        with np.errstate(divide="ignore", invalid="ignore"):
            determinant = a * d - b * c
            faster = -(d * past - b * over) / determinant
            steeper = -(a * over - c * past) / determinant
        state[2, here] = azimuth - right
        moved = ~good
        state[0, here[moved]] = (log_speed + np.clip(faster, -0.25, 0.25))[moved]
        state[1, here[moved]] = np.clip(elevation + np.clip(steeper, -6, 6), low, high)[moved]
        here = here[moved & np.isfinite(faster) & np.isfinite(steeper)]
        if not here.size:
            break
    return state, settled


def _linearised(
    family: _Family, lanes: Lanes, state: Array
) -> tuple[Array, Array, Array, tuple[tuple[Array, Array], tuple[Array, Array]]]:
    """Past, right and over at a state, and how the first and last grow: all in one batch."""
    log_speed, elevation, azimuth = state
    past, right, over = (
        part.reshape(3, -1)
        for part in family.throw(
            np.concatenate([lanes, lanes, lanes]),
            np.concatenate([log_speed, log_speed + _NUDGE_LOG, log_speed]),
            np.concatenate([elevation, elevation, elevation + _NUDGE_DEG]),
            np.tile(azimuth, 3),
        )
    )
    by_speed = ((past[1] - past[0]) / _NUDGE_LOG, (over[1] - over[0]) / _NUDGE_LOG)
    by_angle = ((past[2] - past[0]) / _NUDGE_DEG, (over[2] - over[0]) / _NUDGE_DEG)
    return past[0], right[0], over[0], ((by_speed[0], by_angle[0]), (by_speed[1], by_angle[1]))


def _look_through(family: _Family, lanes: Lanes) -> tuple[Array, Mask, Array, Array]:
    """A start (3, n) next to the wished throw, NaN where none is; whether it is the throw already,
    as a wish at the very top of the family is; least and most value.

    A wish just below the top lies between two angles that both fall short of it: where the first
    look finds none, a closer one goes through the angles beside the nearest.
    """
    wide = np.repeat(np.linspace(*family.elevations_deg, _FAMILY)[:, None], len(lanes), axis=1)
    start, nearest, over = _look(family, lanes, wide)
    value = over + family.wished[lanes]
    least, most = np.fmin.reduce(value), np.fmax.reduce(value)
    at_top = np.zeros(len(lanes), dtype=bool)
    missed = np.flatnonzero(np.isnan(start[0]) & np.isfinite(over).any(axis=0))
    if missed.size:
        at = np.nanargmin(np.abs(over[:, missed]), axis=0)
        low, high = (wide[np.clip(at + by, 0, _FAMILY - 1), missed] for by in (-1, 1))
        closer, nearest, over = _look(family, lanes[missed], np.linspace(low, high, _FAMILY))
        short = np.fmin.reduce(np.abs(over))
        at_top[missed] = np.isnan(closer[0]) & (short < _SAME_VALUE)
        start[:, missed] = np.where(at_top[missed], nearest, closer)
        value = over + family.wished[lanes[missed]]
        least[missed] = np.fmin(least[missed], np.fmin.reduce(value))
        most[missed] = np.fmax(most[missed], np.fmax.reduce(value))
    return start, at_top, least, most


def _look(family: _Family, lanes: Lanes, grid: Array) -> tuple[Array, Array, Array]:
    """A start (3, n) between the angles of ``grid`` (k, n) where the wish is passed; the throw of
    the grid that comes nearest, (3, n); by how much each angle is over the wish (k, n)."""
    many = np.concatenate([lanes] * len(grid))
    log_speed, azimuth, over = (
        part.reshape(len(grid), -1) for part in _through_landing(family, many, grid.ravel())
    )
    with np.errstate(invalid="ignore"):
        meets = (over[:-1] < 0) != (over[1:] < 0)
    meets &= np.isfinite(over[:-1]) & np.isfinite(over[1:])
    steepest = len(meets) - 1 - np.argmax(meets[::-1], axis=0)
    at = np.where(family.targets.high[lanes], steepest, np.argmax(meets, axis=0))
    column = np.arange(len(lanes))
    before, after = over[at, column], over[at + 1, column]
    with np.errstate(divide="ignore", invalid="ignore"):
        share = np.where(meets.any(axis=0), before / (before - after), np.nan)
    start = np.stack(
        [
            log_speed[at, column] + share * (log_speed[at + 1, column] - log_speed[at, column]),
            grid[at, column] + share * (grid[at + 1, column] - grid[at, column]),
            azimuth[at, column] + 0 * share,
        ]
    )
    best = np.argmin(np.where(np.isnan(over), np.inf, np.abs(over)), axis=0)
    nearest = np.stack([part[best, column] for part in (log_speed, grid, azimuth)])
    return start, nearest, over


def _through_landing(family: _Family, lanes: Lanes, elevation: Array) -> tuple[Array, Array, Array]:
    """Speed and azimuth that reach the landing at these elevations; NaN where none does."""
    targets = family.targets.some(lanes)
    tangent = np.tan(np.radians(elevation))
    drop = family.conditions.ball.radius_m - targets.mouth_z_m
    below = targets.distance_m * tangent - drop
    stretch = _stretched(family)[lanes]
    with np.errstate(divide="ignore", invalid="ignore"):
        speed = stretch * np.sqrt(STANDARD_GRAVITY * (1 + tangent**2) / (2 * below))
    log_speed = np.where(below > 0.01, np.log(np.clip(speed, *SPEEDS_MPS)), np.nan)
    azimuth = targets.bearing_deg.copy()
    slope = 1.5 * targets.distance_m
    last, last_past = np.full((2, len(lanes)), np.nan)
    over = past = last_past
    for _ in range(_SPEED_ROUNDS):
        past, right, over = family.throw(lanes, log_speed, elevation, azimuth)
        azimuth = azimuth - right
        with np.errstate(divide="ignore", invalid="ignore"):
            secant = (past - last_past) / (log_speed - last)
        slope = np.where(np.isfinite(secant) & (secant > 0), secant, slope)
        last, last_past = log_speed, past
        near = np.abs(past) < 1e-3
        ahead = np.clip(log_speed - np.clip(past / slope, -0.4, 0.4), *np.log(SPEEDS_MPS))
        log_speed = np.where(near, log_speed, ahead)
    reached = np.abs(past) < 0.05
    return tuple(np.where(reached, part, np.nan) for part in (last, azimuth, over))  # type: ignore[return-value]
