"""Roots of the way's quintics, held to the eigenvalues of companion matrices (numpy.roots)."""

from __future__ import annotations

import numpy as np
import pytest

from feedscript.flight.motion.hermite import root_between


def between(poly: np.ndarray) -> float:
    column = poly[:, None]
    return float(root_between(column, np.zeros(1), np.ones(1))[0])


def test_a_straight_way_crosses_in_its_middle() -> None:
    """Newton's first step back is none, and the root is an end of what is left."""
    assert between(np.array([-0.5, 1.0, 0, 0, 0, 0])) == 0.5


@pytest.mark.parametrize("sign", [1, -1])
def test_a_root_that_a_step_meets_is_kept(sign: int) -> None:
    """Of straight ways through any share of the step, rising and falling."""
    for root in np.linspace(0.02, 0.98, 97):
        poly = sign * np.array([-root, 1.0, 0, 0, 0, 0])
        assert between(poly) == pytest.approx(root, abs=1e-15)


def drawn(count: int, seed: int) -> np.ndarray:
    """Quintics (6, n) that change sign, of steps of a flight: bent by weight and air so little that
    no slope is less than half of the steepest."""
    random = np.random.default_rng(seed)
    polys = random.uniform(-1, 1, (6, count)) * np.array([1, 2, 1, 0.3, 0.1, 0.03])[:, None]
    shares = np.linspace(0, 1, 50)
    slopes = np.array([np.polyval(np.polyder(one[::-1]), shares) for one in polys.T])
    gentle = slopes.min(1) / slopes.max(1)
    alike = np.where(slopes[:, 0] > 0, gentle > 0.5, 1 / gentle > 0.5)
    same_way = (slopes > 0).all(1) | (slopes < 0).all(1)
    return polys[:, (polys[0] * polys.sum(0) < 0) & alike & same_way]


def test_roots_are_those_of_the_companion_matrix() -> None:
    polys = drawn(4000, 5)
    assert polys.shape[1] > 300
    zero = np.zeros(polys.shape[1])
    for poly, found in zip(polys.T, root_between(polys, zero, zero + 1), strict=True):
        every = np.roots(poly[::-1])
        real = every[np.abs(every.imag) < 1e-9].real
        (inside,) = real[(real >= 0) & (real <= 1)]
        assert found == pytest.approx(inside, abs=1e-9)
