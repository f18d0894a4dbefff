"""The share of a feed's balls in its target, against integrals that are found otherwise."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import dblquad

from feedscript.launcher.scatter import share_inside

AXES_M = st.floats(0.05, 2.0)


@given(AXES_M, st.floats(0.05, 3.0))
def test_a_round_scatter_is_that_of_rayleigh(sigma_m: float, radius_m: float) -> None:
    """The distance of a round normal scatter (Rayleigh 1880, Phil. Mag. 10:73): from memory."""
    closed = -math.expm1(-(radius_m**2) / (2 * sigma_m**2))
    assert share_inside(radius_m, np.diag([sigma_m**2, sigma_m**2])) == pytest.approx(
        closed, abs=1e-9
    )


@pytest.mark.parametrize("radius_m", [0.2, 0.6, 1.5])
@pytest.mark.parametrize("axes_m", [(0.5, 0.3), (0.3, 0.5), (0.9, 0.25), (0.4, 0.4)])
def test_a_long_scatter_is_what_its_density_sums_to(
    axes_m: tuple[float, float], radius_m: float
) -> None:
    """The normal density over the disc, by an adaptive rule of the library in x and y."""
    along_m, across_m = axes_m

    def density(y: float, x: float) -> float:
        exponent = (x / along_m) ** 2 + (y / across_m) ** 2
        return math.exp(-exponent / 2) / (2 * math.pi * along_m * across_m)

    def edge(x: float) -> float:
        return math.sqrt(max(0.0, radius_m**2 - x**2))

    total, error = dblquad(density, -radius_m, radius_m, lambda x: -edge(x), edge)
    assert share_inside(radius_m, np.diag(np.square(axes_m))) == pytest.approx(
        total, abs=max(1e-6, 2 * error)
    )
