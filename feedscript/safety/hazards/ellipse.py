"""The landing ellipse: how far it reaches, and how far out of it a landing lies."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from feedscript.plan.model import Ellipse

Array = NDArray[np.float64]


def half_extents(scatter: Ellipse, sigma: float) -> tuple[float, float]:
    """How far the ellipse at ``sigma`` reaches along x and along y from its middle, in m."""
    turn = math.radians(scatter.turn_deg)
    cos, sin = math.cos(turn), math.sin(turn)
    along_x = math.hypot(scatter.major_m * cos, scatter.minor_m * sin)
    along_y = math.hypot(scatter.major_m * sin, scatter.minor_m * cos)
    return sigma * along_x, sigma * along_y


def sigmas_out(scatter: Ellipse, dx_m: Array, dy_m: Array) -> Array:
    """How many standard deviations from the middle landings lie (Mahalanobis distance)."""
    turn = math.radians(scatter.turn_deg)
    cos, sin = math.cos(turn), math.sin(turn)
    along, across = dx_m * cos + dy_m * sin, -dx_m * sin + dy_m * cos
    out: Array = np.hypot(_share(along, scatter.major_m), _share(across, scatter.minor_m))
    return out


def _share(distance_m: Array, deviation_m: float) -> Array:
    if deviation_m > 0:
        return distance_m / deviation_m
    return np.where(distance_m == 0, 0.0, math.inf)
