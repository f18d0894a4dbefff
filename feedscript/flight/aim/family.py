"""All throws that land at a target, one for every elevation, and what each comes to."""

from __future__ import annotations

from collections.abc import Callable

import msgspec
import numpy as np

from feedscript.flight.aim.reach import SPEEDS_MPS
from feedscript.flight.aim.targets import Targets
from feedscript.flight.launches import Launches
from feedscript.flight.models import Array, Lanes, Mask
from feedscript.flight.motion.conditions import Conditions
from feedscript.flight.motion.flights import Flights

#: What a thrown ball comes to, beside its landing: of launches, for some of the wishes.
Measure = Callable[[Launches, Lanes], tuple[Flights, Array]]


class Family(msgspec.Struct, frozen=True, eq=False):
    """The throws of a batch of targets, and what is wished of each beside its landing."""

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


def possible(log_speed: Array) -> Mask:
    """Whether a speed is one that a launcher might throw."""
    low, high = np.log(SPEEDS_MPS)
    inside: Mask = (log_speed >= low) & (log_speed <= high)
    return inside


def drag_free_m(family: Family) -> Array:
    """The way a ball would go in the time drag lets it go the distance."""
    ball, model = family.conditions.ball, family.conditions.model
    per_m = family.conditions.air.density_kgm3 * ball.area_m2 / (2 * ball.mass_kg)
    per_m *= float(model.drag(np.array([0.1]))[0]) * ball.wear.drag_factor
    distance = family.targets.distance_m
    return distance if per_m == 0 else np.expm1(np.minimum(per_m * distance, 3.0)) / per_m
