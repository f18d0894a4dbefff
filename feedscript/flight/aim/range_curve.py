"""How far a throw goes, over its elevation: the one curve on which aiming is solved.

Spin words turn with the throw, so in still air the landing's distance depends on elevation alone
and a turn of the launcher carries the landing round. Wind couples the two a little; then azimuth is
corrected along with elevation until both are right.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import TypeAlias

import msgspec
import numpy as np

from feedscript.flight.aim.targets import Targets
from feedscript.flight.air import STANDARD_GRAVITY
from feedscript.flight.launches import RPM
from feedscript.flight.models import Array, Lanes
from feedscript.flight.motion.conditions import Conditions
from feedscript.flight.motion.flights import land

_GRID = 19  # elevations looked at when the quick way fails
_FINER = 7  # and again between neighbours, as often as below
_ROUNDS_TO_SUMMIT = 4
_WIND_ROUNDS = 12
_OFF_VERTEX = 0.3
_DRAGGED_AT, _LIFTED_AT, _GUESSES = 0.8, 0.75, 3
_STRAIGHT_DEG = 3e-5  # a hundredth of a millimetre over twenty metres


#: Asked before every throw; raises where nobody waits for the aim any more.
GoOn: TypeAlias = Callable[[], None]


class RangeCurve(msgspec.Struct, frozen=True, eq=False):
    """The curve of every target of a batch, between two elevations."""

    targets: Targets
    conditions: Conditions
    elevations_deg: tuple[float, float]
    by_wheels: bool
    go_on: GoOn | None = None

    def of(self, chosen: Lanes) -> RangeCurve:
        """The curves of some of the targets."""
        return self.with_targets(self.targets.some(chosen))

    def with_targets(self, targets: Targets) -> RangeCurve:
        return msgspec.structs.replace(self, targets=targets)

    def look_on(self) -> None:
        """Raise where the aim is given up."""
        if self.go_on is not None:
            self.go_on()

    def throw(self, elevation: Array, azimuth: Array) -> tuple[Array, Array]:
        """How far past the target's distance a throw lands (m), and how far right (degrees)."""
        self.look_on()
        targets = self.targets
        launches = targets.launches(elevation, azimuth, by_wheels=self.by_wheels)
        flights = land(launches, self.conditions)
        x = flights.landing_x_m - targets.mouth_x_m
        y = flights.landing_y_m - targets.mouth_y_m
        turn = np.degrees(np.arctan2(x, y)) - targets.bearing_deg
        right = (turn + 180) % 360 - 180
        # A ball that comes back over the launcher has gone a negative way.
        back = np.abs(right) > 90
        way = np.where(back, -1.0, 1.0) * np.hypot(x, y)
        return way - targets.distance_m, np.where(back, 0.0, right)

    def throws(self, elevations: Array, azimuth: Array) -> tuple[Array, Array]:
        """As :func:`throw`, of several elevations (k, n) of each target in one batch."""
        rows, balls = elevations.shape
        many = self.of(np.tile(np.arange(balls), rows))
        past, right = many.throw(elevations.ravel(), np.tile(azimuth, rows))
        return past.reshape(rows, balls), right.reshape(rows, balls)

    def along(self, elevation: Array) -> tuple[Array, Array]:
        """How far past the target the ball lands when it is aimed along the bearing; azimuth."""
        azimuth = self.targets.bearing_deg
        past, right = self.throw(elevation, azimuth)
        azimuth = azimuth - right
        for _ in range(0 if self.conditions.still else _WIND_ROUNDS):
            past, right = self.throw(elevation, azimuth)
            azimuth = azimuth - right
            if np.nanmax(np.abs(right), initial=0.0) < _STRAIGHT_DEG:
                break
        return past, azimuth

    def grid(self) -> tuple[Array, Array]:
        """Elevations (k, n) over the whole span and how far past each lands (k, n)."""
        angles = np.linspace(*self.elevations_deg, _GRID)[:, None]
        return self._at(np.broadcast_to(angles, (_GRID, len(self.targets))))

    def _at(self, angles: Array) -> tuple[Array, Array]:
        rows, balls = angles.shape
        many = self.of(np.tile(np.arange(balls), rows))
        return angles, many.along(angles.ravel())[0].reshape(rows, balls)

    def summit(self, low: Array, high: Array) -> tuple[Array, Array]:
        """The elevation between two that throws farthest, and how far past the target that is."""
        lanes = np.arange(len(low))
        best, most = low, np.full(len(low), -np.inf)
        for _ in range(_ROUNDS_TO_SUMMIT):
            shares = np.linspace(0, 1, _FINER)[:, None]
            angles, past = self._at(low + shares * (high - low))
            top = np.argmax(np.nan_to_num(past, nan=-np.inf), axis=0)
            better = past[top, lanes] > most
            best = np.where(better, angles[top, lanes], best)
            most = np.where(better, past[top, lanes], most)
            low = angles[np.maximum(top - 1, 0), lanes]
            high = angles[np.minimum(top + 1, _FINER - 1), lanes]
        return best, most

    def guess(self) -> Array:
        """A first elevation on the wished arc, mostly within half a degree.

        As for a flat flight: horizontal speed falls as exp(-k s) over the way s, and gravity and a
        mean lift act as one steady pull p, so that the drop is
        p (exp(2 k s) - 1 - 2 k s) / (4 k^2 v^2 cos^2); a low throw's way is x / cos. The shares of
        the speed at which drag and lift are taken are fitted to flights (design values).
        """
        targets, ball = self.targets, self.conditions.ball
        speed, distance = targets.speed_mps, targets.distance_m
        spin = np.hypot(targets.top_rpm, targets.side_rpm) * RPM
        ratio = ball.radius_m * spin / (_DRAGGED_AT * speed)
        per_m = self.conditions.air.density_kgm3 * ball.area_m2 / (2 * ball.mass_kg)
        drag_per_m = per_m * self.conditions.model.drag(ratio) * ball.wear.drag_factor
        pull = np.full_like(speed, STANDARD_GRAVITY)
        if self.conditions.model.lift is not None:
            lift = per_m * self.conditions.model.lift(ratio) * ball.wear.lift_factor
            share = targets.top_rpm * RPM / np.where(spin > 0, spin, 1.0)
            pull = pull + lift * share * (_LIFTED_AT * speed) ** 2
        drop = ball.radius_m - targets.mouth_z_m
        tangent = np.zeros_like(speed)
        for _ in range(_GUESSES):
            per_x = np.maximum(drag_per_m, 1e-6) * np.where(
                targets.high, 1.0, np.sqrt(1.0 + tangent**2)
            )
            lost = np.minimum(2 * per_x * distance, 6.0)
            q = np.maximum(pull, 1.0) * (np.expm1(lost) - lost) / (2 * per_x * speed) ** 2
            # distance tan - q (1 + tan^2) = drop: a quadratic in the tangent of the elevation.
            # Kept off the vertex, where the distance does not grow with the angle at all.
            root = np.sqrt(
                np.maximum(distance**2 - 4 * q * (q + drop), (_OFF_VERTEX * distance) ** 2)
            )
            tangent = np.where(targets.high, distance + root, distance - root) / (2 * q)
        return np.clip(np.degrees(np.arctan(tangent)), *self.elevations_deg)
