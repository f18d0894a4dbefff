"""What a flight looks like: from its unknowns to pixels at times, and the slopes of that."""

from __future__ import annotations

import msgspec
import numpy as np

from feedscript.flight.models import Array
from feedscript.watch.camera.camera import Camera
from feedscript.watch.camera.geometry import project
from feedscript.watch.seek.expected import AT, UNKNOWNS, Expected
from feedscript.watch.seek.paths import Paths, paths

#: A ball's light has its middle beside the ball's own, towards where light comes from: right and
#: down, as shares of the radius. Of what is under a sky, the upper side is lighter. No source.
LIT = ("lit_right", "lit_down")
_LIT_MIDDLE, _LIT_SD = (0.0, -0.1), (0.15, 0.15)
#: Launches may stray by more than the launcher's scatter says: its tuning may be off.
_TUNING = 2.0
_LAUNCH = slice(0, 5)
#: A slope is the change over this share of a standard deviation.
_NUDGE = 2e-3


class View(msgspec.Struct, frozen=True, eq=False):
    """One feed before one camera. Flights are told in standard deviations from what is expected:
    shape (n, 22), ``UNKNOWNS`` and then ``LIT``."""

    expected: Expected
    camera: Camera

    @property
    def size(self) -> int:
        return len(UNKNOWNS) + len(LIT)

    @property
    def middle(self) -> Array:
        return np.concatenate([self.expected.middle, _LIT_MIDDLE])

    @property
    def spread(self) -> Array:
        spread = np.concatenate([self.expected.spread, _LIT_SD])
        spread[_LAUNCH] *= _TUNING
        return spread

    def values(self, flights: Array) -> Array:
        """The unknowns in their own units."""
        return np.asarray(self.middle + self.spread * flights)

    def paths(self, flights: Array) -> Paths:
        return paths(self.values(np.atleast_2d(flights))[:, : len(UNKNOWNS)], self.expected)

    def down_s(self, flights: Array) -> Array:
        """When each bounces, (n,), video time."""
        ways = self.paths(flights)
        return ways.left_s + ways.flight_s

    def px(self, flights: Array, times_s: Array) -> Array:
        """Where the ball's light is, shape (n, m, 2), at times (m,); NaN where it is not shown."""
        return self.px_along(self.paths(flights), flights, times_s)

    def px_along(self, ways: Paths, flights: Array, times_s: Array) -> Array:
        """The same where the flights' ways are known."""
        places = ways.at(times_s)
        lit = self.values(np.atleast_2d(flights))[:, None, len(UNKNOWNS) :]
        return project(self.camera, places) + lit * self.radius_px(places)[..., None]

    def radius_px(self, places: Array) -> Array:
        depth = (places - self.camera.position_m) @ self.camera.axes[2]
        radius_m = self.expected.conditions.ball.radius_m
        return np.asarray(self.camera.focal_px * radius_m / np.maximum(depth, 0.5))

    def nudged(self, flight: Array) -> Array:
        """The flight, and after it one changed a little in each unknown: shape (23, 22)."""
        return np.vstack([flight, flight + _NUDGE * np.eye(self.size)])

    def slopes(self, flight: Array, times_s: Array) -> tuple[Array, Array]:
        """Pixels (m, 2), and how they move with the unknowns: (m, 2, 22)."""
        px = self.px(self.nudged(flight), times_s)
        return px[0], np.moveaxis(px[1:] - px[0], 0, -1) / _NUDGE

    def at(self, flight: Array, name: str) -> float:
        """One unknown in its own unit."""
        return float(self.values(flight)[AT[name]])
