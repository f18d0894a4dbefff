"""Scatter: linear propagation, sampling and the shares they imply."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from feedscript.launcher.scatter import (
    ellipse_of,
    ground_covariance,
    mouth_samples,
    mouth_sigmas,
    share_inside,
)
from feedscript.launcher.throw import Throw
from tests.launcher.examples import garage

THROW = Throw(speed_mps=20, elevation_deg=8, azimuth_deg=3, top_rpm=1200)


def test_samples_have_the_means_and_deviations_of_the_profile() -> None:
    """200 000 draws: the standard error of a mean is s / 447, of a deviation s / 632."""
    drawn = mouth_samples(garage(), THROW, 200_000, np.random.default_rng(7))
    sigmas = mouth_sigmas(garage(), THROW)
    assert (np.abs(drawn.mean(axis=0) - [20, 8, 3, 1200, 0]) <= 5 / 447 * sigmas).all()
    np.testing.assert_allclose(drawn.std(axis=0)[:4], sigmas[:4], rtol=5 / 632)
    assert (drawn[:, 4] == 0).all(), "a head that cannot roll does not stray sideways in spin"


def test_the_same_seed_gives_the_same_balls() -> None:
    one, two = (mouth_samples(garage(), THROW, 50, np.random.default_rng(3)) for _ in range(2))
    assert np.array_equal(one, two)


def test_linear_propagation_agrees_with_sampling_through_a_linear_flight() -> None:
    random = np.random.default_rng(11)
    jacobian = random.normal(size=(2, 5)) * [0.6, 0.9, 0.4, 0.003, 0.002]
    sigmas = np.array([0.16, 0.2, 0.16, 45.0, 45.0])
    drawn = (random.standard_normal((400_000, 5)) * sigmas) @ jacobian.T
    np.testing.assert_allclose(ground_covariance(jacobian, sigmas), np.cov(drawn.T), rtol=0.02)


@pytest.mark.parametrize(
    ("covariance", "major", "minor", "turn"),
    [
        ([[4, 0], [0, 1]], 2, 1, 0),
        ([[1, 0], [0, 4]], 2, 1, 90),
        ([[2.5, 1.5], [1.5, 2.5]], 2, 1, 45),
        ([[2.5, -1.5], [-1.5, 2.5]], 2, 1, -45),
    ],
)
def test_ellipses_by_hand(covariance, major, minor, turn) -> None:
    ellipse = ellipse_of(np.array(covariance, dtype=float))
    assert (ellipse.major_m, ellipse.minor_m) == pytest.approx((major, minor))
    assert math.remainder(ellipse.turn_deg - turn, 180) == pytest.approx(0, abs=1e-9)


def test_share_inside_a_circle_of_a_round_scatter() -> None:
    """Rayleigh distribution: 1 - exp(-r^2 / 2 s^2); 2.4477 s holds 95 % (chi-squared tables)."""
    round_scatter = np.eye(2) * 0.3**2
    assert share_inside(0.3 * 2.4477, round_scatter) == pytest.approx(0.95, abs=1e-5)
    assert share_inside(0.3, round_scatter) == pytest.approx(1 - math.exp(-0.5), abs=1e-9)


@given(st.floats(0.05, 2), st.floats(0.2, 1), st.floats(0.1, 3))
def test_share_inside_agrees_with_the_density_summed_up(major, ratio, radius) -> None:
    """Against an independent sum of the normal density over rings and strips."""
    minor = major * ratio
    x = np.linspace(-radius, radius, 4001)
    half = np.sqrt(radius**2 - x**2)
    erf = np.vectorize(math.erf)
    density = np.exp(-((x / major) ** 2) / 2) / (major * math.sqrt(2 * math.pi))
    expected = np.trapezoid(density * erf(half / (minor * math.sqrt(2))), x)
    ours = share_inside(radius, np.diag([major**2, minor**2]))
    assert ours == pytest.approx(expected, abs=2e-4)
