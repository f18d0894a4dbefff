"""How a landing moves with what strays at the mouth: the linear part, against balls drawn."""

from __future__ import annotations

import numpy as np
import pytest

from feedscript.flight.aim.aiming import Targets, aim
from feedscript.flight.launches import Launches
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
