"""Aiming: which way to throw so that a ball of this speed and spin lands there.

Spin words turn with the throw, so in still air the landing's distance hangs on elevation alone and
a turn of the launcher carries the landing round: elevation is found first along a single curve,
azimuth follows. Wind couples the two a little, and the same steps then go on until both are right.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import ArrayLike

from feedscript.flight.models import Array, Lanes, Mask
from feedscript.flight.motion import (
    DEFAULT_CONDITIONS,
    Conditions,
    Flights,
    Launches,
    fly,
    land,
)
from feedscript.flight.sensitivity import Sensitivity, sensitivity

ELEVATIONS_DEG = (-15.0, 75.0)
#: A solution is one whose landing is this close to what was asked.
RESIDUAL_M = 1e-4
_SCAN = 19
_ROUNDS = 40


@dataclass(frozen=True, slots=True, eq=False)
class Targets:
    """What is wished of each ball: where it lands, how fast it leaves, with which spin."""

    x_m: Array
    y_m: Array
    speed_mps: Array
    top_rpm: Array
    side_rpm: Array
    mouth_x_m: Array
    mouth_y_m: Array
    mouth_z_m: Array
    high: Mask  # the high arc instead of the low one

    @classmethod
    def of(
        cls,
        x_m: ArrayLike,
        y_m: ArrayLike,
        speed_mps: ArrayLike,
        *,
        top_rpm: ArrayLike = 0.0,
        side_rpm: ArrayLike = 0.0,
        mouth_x_m: ArrayLike = 0.0,
        mouth_y_m: ArrayLike = -12.0,
        mouth_z_m: ArrayLike = 1.0,
        high: ArrayLike = False,
    ) -> Targets:
        """Targets from numbers or arrays that broadcast to one length."""
        parts = (x_m, y_m, speed_mps, top_rpm, side_rpm, mouth_x_m, mouth_y_m, mouth_z_m, high)
        arrays = np.broadcast_arrays(*(np.asarray(part, dtype=float) for part in parts))
        flat = [np.ascontiguousarray(np.atleast_1d(array)) for array in arrays]
        targets = cls(*flat)
        return replace(targets, high=targets.high != 0)

    def some(self, chosen: Lanes) -> Targets:
        return Targets(*(getattr(self, name)[chosen] for name in self.__dataclass_fields__))

    def __len__(self) -> int:
        return len(self.x_m)

    @property
    def distance_m(self) -> Array:
        return np.hypot(self.x_m - self.mouth_x_m, self.y_m - self.mouth_y_m)

    @property
    def bearing_deg(self) -> Array:
        return np.degrees(np.arctan2(self.x_m - self.mouth_x_m, self.y_m - self.mouth_y_m))

    def launches(self, elevation_deg: Array, azimuth_deg: Array, by_wheels: bool) -> Launches:
        launches = Launches.of(
            self.speed_mps,
            elevation_deg,
            azimuth_deg,
            top_rpm=self.top_rpm,
            side_rpm=self.side_rpm,
            x_m=self.mouth_x_m,
            y_m=self.mouth_y_m,
            z_m=self.mouth_z_m,
        )
        return launches.thrown_by_wheels() if by_wheels else launches


@dataclass(frozen=True, slots=True, eq=False)
class Aims:
    """How to throw, and what then happens; arrays of the targets' length.

    Where a target is out of reach, elevation and azimuth are those of the throw that comes
    nearest. ``miss_m`` says by how much: positive for a throw that falls short, negative for one
    that flies past, zero in reach. ``speed_needed_mps`` is the nearest speed that would reach it
    with everything else as wished; NaN if none up to 70 m/s does.
    """

    elevation_deg: Array
    azimuth_deg: Array
    residual_m: Array
    reachable: Mask
    miss_m: Array
    speed_needed_mps: Array
    launches: Launches
    flights: Flights
    sensitivity: Sensitivity


def aim(
    targets: Targets,
    conditions: Conditions = DEFAULT_CONDITIONS,
    *,
    elevations_deg: tuple[float, float] = ELEVATIONS_DEG,
    by_wheels: bool = True,
) -> Aims:
    """Solve elevation and azimuth for every target at once.

    ``elevations_deg`` bounds the search: what the launcher can tilt to. ``by_wheels`` removes the
    part of the wished spin that lies along the throw, which no pair of wheels can give.
    """
    search = _Search(targets, conditions, elevations_deg, by_wheels)
    elevation, azimuth, miss = search.solve()
    launches = targets.launches(elevation, azimuth, by_wheels)
    flights = fly(launches, conditions)
    residual = np.hypot(flights.landing_x_m - targets.x_m, flights.landing_y_m - targets.y_m)
    reachable = residual <= RESIDUAL_M
    needed = targets.speed_mps.copy()
    out = np.flatnonzero(~reachable)
    if out.size:
        needed[out] = _speed_needed(targets.some(out), miss[out], search)
    return Aims(
        elevation_deg=elevation,
        azimuth_deg=azimuth,
        residual_m=residual,
        reachable=reachable,
        miss_m=np.where(reachable, 0.0, miss),
        speed_needed_mps=needed,
        launches=launches,
        flights=flights,
        sensitivity=sensitivity(launches, conditions, flights, by_wheels=by_wheels),
    )


@dataclass(frozen=True, slots=True, eq=False)
class _Search:
    targets: Targets
    conditions: Conditions
    elevations_deg: tuple[float, float]
    by_wheels: bool

    def for_targets(self, targets: Targets) -> _Search:
        return _Search(targets, self.conditions, self.elevations_deg, self.by_wheels)

    def throw(self, elevation: Array, azimuth: Array) -> tuple[Array, Array]:
        """How far past the target's distance a throw lands, and how far right in degrees."""
        targets = self.targets
        flights = land(targets.launches(elevation, azimuth, self.by_wheels), self.conditions)
        x = flights.landing_x_m - targets.mouth_x_m
        y = flights.landing_y_m - targets.mouth_y_m
        turn = np.degrees(np.arctan2(x, y)) - targets.bearing_deg
        right = (turn + 180) % 360 - 180
        # A ball that comes back over the launcher has gone a negative way.
        back = np.abs(right) > 90
        way = np.where(back, -1.0, 1.0) * np.hypot(x, y)
        right = np.where(back, 0.0, right)
        return way - targets.distance_m, right

    def straight_on(self, elevation: Array) -> tuple[Array, Array]:
        """As :meth:`throw`, aimed so that the ball lands along the bearing: and that azimuth."""
        azimuth = self.targets.bearing_deg
        past, right = self.throw(elevation, azimuth)
        azimuth = azimuth - right
        if not self.conditions.still:
            for _ in range(4):
                past, right = self.throw(elevation, azimuth)
                azimuth = azimuth - right
        return past, azimuth

    def solve(self) -> tuple[Array, Array, Array]:
        """Elevation, azimuth and, out of reach, by how much the best throw is short (+)."""
        low, high, past_low, past_high = self._bracket()
        same = (past_low < 0) == (past_high < 0)
        elevation = self._close_in(low, high, past_low, past_high, ~same)
        past, azimuth = self.straight_on(elevation)
        miss = np.where(same, -past, 0.0)
        return elevation, azimuth, miss

    def _scan(self) -> tuple[Array, Array]:
        """Grid of elevations (k) and how far past the target each lands (k, n)."""
        grid = np.linspace(*self.elevations_deg, _SCAN)
        ones = np.ones(len(self.targets))
        return grid, np.stack([self.straight_on(angle * ones)[0] for angle in grid])

    def _bracket(self) -> tuple[Array, Array, Array, Array]:
        """Elevations on both sides of the wished arc's solution, with what they land past.

        The wished arc is the steepest rise (low) or the last fall (high) of the distance over
        elevation. Where no grid point lies past the target, the top of the curve is found first.
        """
        grid, past = self._scan()
        lanes = np.arange(past.shape[1])
        top = np.argmax(past, axis=0)
        peak, past_peak = self._summit(grid, past, top)
        high = self.targets.high
        # Low arc: the last grid point short of the target before the summit.
        # High arc: the first one after it.
        index = np.arange(len(grid))[:, None]
        short = past < 0
        before = np.where(short & (index <= top), index, -1).max(axis=0)
        after = np.where(short & (index >= top), index, len(grid)).min(axis=0)
        edge = np.where(high, after, before)
        inner = np.where(high, after - 1, before + 1)
        none = (edge < 0) | (edge >= len(grid))
        edge = np.where(none, np.where(high, len(grid) - 1, 0), edge)
        inner = np.clip(inner, 0, len(grid) - 1)
        use_peak = np.where(high, inner <= top, inner >= top) | none
        outer_deg, outer = grid[edge], past[edge, lanes]
        inner_deg = np.where(use_peak, peak, grid[inner])
        inner_past = np.where(use_peak, past_peak, past[inner, lanes])
        # Nothing short of the target anywhere: the nearest throw is the one at the edge.
        inner_deg = np.where(none, outer_deg, inner_deg)
        inner_past = np.where(none, outer, inner_past)
        return outer_deg, inner_deg, outer, inner_past

    def _summit(self, grid: Array, past: Array, top: Array) -> tuple[Array, Array]:
        """The elevation that throws farthest, by golden section where the target needs it."""
        lanes = np.arange(past.shape[1])
        best, best_past = grid[top].copy(), past[top, lanes].copy()
        need = np.flatnonzero(best_past < 0)
        if not need.size:
            return best, best_past
        search = self.for_targets(self.targets.some(need))
        last = len(grid) - 1
        low, high = grid[np.maximum(top[need] - 1, 0)], grid[np.minimum(top[need] + 1, last)]
        ratio = (np.sqrt(5) - 1) / 2
        inner = np.stack([high - ratio * (high - low), low + ratio * (high - low)])
        values = [search.straight_on(angle)[0] for angle in inner]
        for _ in range(26):
            left = values[0] > values[1]
            low, high = np.where(left, low, inner[0]), np.where(left, inner[1], high)
            fresh = np.where(left, high - ratio * (high - low), low + ratio * (high - low))
            value = search.straight_on(fresh)[0]
            kept, kept_value = np.where(left, inner[0], inner[1]), np.where(left, *values)
            inner = np.where(left, np.stack([fresh, kept]), np.stack([kept, fresh]))
            values = [np.where(left, value, kept_value), np.where(left, kept_value, value)]
        better = np.maximum(values[0], values[1]) > best_past[need]
        angle = np.where(values[0] > values[1], inner[0], inner[1])
        best[need] = np.where(better, angle, best[need])
        best_past[need] = np.where(better, np.maximum(*values), best_past[need])
        return best, best_past

    def _close_in(
        self, low: Array, high: Array, past_low: Array, past_high: Array, solvable: Mask
    ) -> Array:
        """Regula falsi (Illinois) between the bracket's ends; out of reach keeps the nearer end."""
        result = np.where(np.abs(past_low) <= np.abs(past_high), low, high)
        lanes = np.flatnonzero(solvable)
        a, b, fa, fb = (part[lanes].copy() for part in (low, high, past_low, past_high))
        for _ in range(_ROUNDS):
            if not lanes.size:
                break
            middle = b - fb * (b - a) / (fb - fa)
            value, _ = self.for_targets(self.targets.some(lanes)).straight_on(middle)
            crossed = (value < 0) != (fb < 0)
            a, fa = np.where(crossed, b, a), np.where(crossed, fb, fa / 2)
            b, fb = middle, value
            result[lanes] = middle
            going = np.abs(value) > RESIDUAL_M / 10
            lanes, a, b, fa, fb = lanes[going], a[going], b[going], fa[going], fb[going]
        return result


def _speed_needed(targets: Targets, miss: Array, search: _Search) -> Array:
    """The nearest speed that reaches each target, by halving; NaN where none does."""
    short = miss > 0
    start = targets.speed_mps
    far_end = np.where(short, 70.0, 3.0)
    fails, works = start.copy(), far_end

    def reaches(speed: Array) -> Mask:
        moved = search.for_targets(replace(targets, speed_mps=speed))
        _, _, past_low, past_high = moved._bracket()
        both: Mask = (past_low < 0) != (past_high < 0)
        return both

    possible = reaches(works)
    for _ in range(12):
        middle = (fails + works) / 2
        good = reaches(middle)
        works, fails = np.where(good, middle, works), np.where(good, fails, middle)
    return np.where(possible, works, np.nan)
