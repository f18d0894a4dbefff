"""Looking a whole family of throws through, where Newton's steps do not settle."""

from __future__ import annotations

import numpy as np

from feedscript.flight.aim.family import Family, drag_free_m
from feedscript.flight.aim.reach import SPEEDS_MPS
from feedscript.flight.air import STANDARD_GRAVITY
from feedscript.flight.models import Array, Lanes, Mask

_FAMILY = 31  # elevations looked at
_SAME_VALUE = 1e-3  # a wish so little beyond the top of what can be had is the top: 1 mm, 1 ms
_SPEED_ROUNDS = 9


def look_through(family: Family, lanes: Lanes) -> tuple[Array, Mask, Array, Array]:
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


def _look(family: Family, lanes: Lanes, grid: Array) -> tuple[Array, Array, Array]:
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


def _through_landing(family: Family, lanes: Lanes, elevation: Array) -> tuple[Array, Array, Array]:
    """Speed and azimuth that reach the landing at these elevations; NaN where none does."""
    targets = family.targets.some(lanes)
    tangent = np.tan(np.radians(elevation))
    drop = family.conditions.ball.radius_m - targets.mouth_z_m
    below = targets.distance_m * tangent - drop
    reach = drag_free_m(family)[lanes]
    with np.errstate(divide="ignore", invalid="ignore"):
        speed = reach * np.sqrt(STANDARD_GRAVITY * (1 + tangent**2) / (2 * below))
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
