"""How a landing moves with what strays at the mouth: the linear part, against balls drawn."""

from __future__ import annotations

import numpy as np
import pytest

from feedscript.flight.aim.aiming import Targets, aim
from feedscript.flight.aim.sensitivity import flown_with_sensitivity
from feedscript.flight.air import Air
from feedscript.flight.launches import Launches
from feedscript.flight.motion.conditions import Conditions
from feedscript.flight.motion.flights import land

SIGMAS = np.array([0.16, 0.2, 0.16, 45.0, 45.0])
NAMES = ("speed_mps", "elevation_deg", "azimuth_deg", "top_rpm", "side_rpm")


def test_drawn_and_linear_scatter_agree() -> None:
    """Covariances within 6 % (of 40,000 balls chance leaves 1.5 %), means within 3 cm."""
    aims = aim(
        Targets.of(
            [-3, 0, 2.5], [9.5, 7.0, 5.0], [22, 27, 18], top_rpm=[1200, 2000, -800], side_rpm=300
        )
    )
    random = np.random.default_rng(1)
    for k in range(3):
        meant = aims.launches.some(slice(k, k + 1))
        centre = np.array([getattr(meant, name)[0] for name in NAMES])
        speed, up, turn, top, side = (centre + SIGMAS * random.standard_normal((40_000, 5))).T
        drawn = Launches.of(
            speed, up, turn, top_rpm=top, side_rpm=side,
            x_m=meant.x_m, y_m=meant.y_m, z_m=meant.z_m,
        ).thrown_by_wheels()  # fmt: skip
        flights = land(drawn)
        points = np.stack([flights.landing_x_m, flights.landing_y_m])
        slopes = np.stack([getattr(aims.sensitivity, name)[:, k] for name in NAMES], axis=-1)
        linear = (slopes * SIGMAS) @ (slopes * SIGMAS).T
        assert np.diag(np.cov(points)) == pytest.approx(np.diag(linear), rel=0.06)
        landing = [aims.flights.landing_x_m[k], aims.flights.landing_y_m[k]]
        assert points.mean(axis=1) == pytest.approx(landing, abs=0.03)


@pytest.mark.parametrize("by_wheels", [True, False])
@pytest.mark.parametrize("wind_mps", [(0.0, 0.0), (1.0, -2.0)])
def test_many_flights_are_those_of_their_parts_to_the_last_bit(
    by_wheels: bool, wind_mps: tuple[float, float]
) -> None:
    """Few are flown in one batch with those a little apart, many in two."""
    random = np.random.default_rng(2)
    launches = Launches.of(
        random.uniform(10, 40, 500), random.uniform(-4, 50, 500), random.uniform(-10, 10, 500),
        top_rpm=random.uniform(-2500, 2500, 500), side_rpm=300, y_m=-12,
    )  # fmt: skip
    conditions = Conditions(air=Air(1.2, wind_mps))
    whole = flown_with_sensitivity(launches, conditions, by_wheels=by_wheels)
    for part in (slice(0, 250), slice(250, 500)):
        alone = flown_with_sensitivity(launches.some(part), conditions, by_wheels=by_wheels)
        for all_of_it, its in zip(whole, alone, strict=True):
            mine = all_of_it.some(part)
            for name in mine.__struct_fields__:
                assert np.array_equal(getattr(mine, name), getattr(its, name), equal_nan=True), name
