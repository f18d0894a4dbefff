"""Scatter by sampling, and against its linear propagation."""

from __future__ import annotations

import numpy as np
import pytest

from feedscript.flight.aim.aiming import Targets, aim
from feedscript.flight.bounce import SURFACES
from feedscript.flight.motion.conditions import Conditions
from feedscript.flight.sampling import fly_scattered

SIGMAS = np.array([0.16, 0.2, 0.16, 45.0, 45.0])
CONDITIONS, HARD = Conditions(), SURFACES["hard"]


def test_sampled_and_linear_scatter_agree() -> None:
    """Covariances within 6 % (of 40,000 balls chance leaves 1.5 %), means within 3 cm."""
    aims = aim(
        Targets.of(
            [-3, 0, 2.5], [9.5, 7.0, 5.0], [22, 27, 18], top_rpm=[1200, 2000, -800], side_rpm=300
        )
    )
    found = list(
        fly_scattered(
            aims.launches,
            np.tile(SIGMAS, (3, 1)),
            40_000,
            np.random.default_rng(1),
            CONDITIONS,
            HARD,
        )
    )
    feed = np.concatenate([batch.feed for batch in found])
    x = np.concatenate([batch.flights.landing_x_m for batch in found])
    y = np.concatenate([batch.flights.landing_y_m for batch in found])
    slopes = aims.sensitivity
    jacobian = np.stack(
        [
            slopes.speed_mps,
            slopes.elevation_deg,
            slopes.azimuth_deg,
            slopes.top_rpm,
            slopes.side_rpm,
        ],
        axis=-1,
    )  # (2, feeds, 5)
    for k in range(3):
        points = np.stack([x[feed == k], y[feed == k]])
        linear = (jacobian[:, k] * SIGMAS) @ (jacobian[:, k] * SIGMAS).T
        sampled = np.cov(points)
        assert np.diag(sampled) == pytest.approx(np.diag(linear), rel=0.06)
        centre = [aims.flights.landing_x_m[k], aims.flights.landing_y_m[k]]
        assert points.mean(axis=1) == pytest.approx(centre, abs=0.03)


def test_the_batch_size_changes_nothing() -> None:
    aims = aim(Targets.of([-3, 0], 9.5, 22))
    drawn = [
        np.concatenate(
            [
                batch.flights.landing_y_m
                for batch in fly_scattered(
                    aims.launches, np.tile(SIGMAS, (2, 1)), 50, np.random.default_rng(3),
                    CONDITIONS, HARD, at_once,
                )
            ]
        )
        for at_once in (7, 1000)
    ]  # fmt: skip
    assert (drawn[0] == drawn[1]).all()
    assert len(drawn[0]) == 100
