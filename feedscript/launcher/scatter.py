"""How balls stray: from the dispersion at the mouth to samples and to an ellipse on the ground.

At the mouth each ball's speed, elevation, azimuth and the two parts of its spin stray
independently, each with a normal distribution. Two ways lead to the ground: linear propagation
(covariance C on the ground = J S J', with the landing's sensitivities J from aiming), and samples.
"""

from __future__ import annotations

import math

import msgspec
import numpy as np
from numpy.typing import NDArray

from feedscript.launcher.profile.model import Profile
from feedscript.launcher.sweep import unsure_deg
from feedscript.launcher.throw import Throw

Array = NDArray[np.float64]

#: Columns of samples and of a Jacobian, in this order.
MOUTH_QUANTITIES = ("speed_mps", "elevation_deg", "azimuth_deg", "top_rpm", "side_rpm")


class GroundEllipse(msgspec.Struct, frozen=True):
    """One-sigma ellipse: half axes, and the turn of the major one from x towards y."""

    major_m: float
    minor_m: float
    turn_deg: float


def mouth_sigmas(profile: Profile, throw: Throw) -> Array:
    """One standard deviation of each of MOUTH_QUANTITIES for this throw; shape (5,).

    A launcher whose side limits are both zero has no side spin to stray. Of one that swings by
    itself this is what strays about one of its ``sweep.directions_deg``. An axis that stands at
    whole steps is off by half of one at most, which is added in full.
    """
    dispersion, limits = profile.dispersion, profile.limits
    side_sigma = dispersion.spin_rpm if limits.side_rpm.most > limits.side_rpm.least else 0.0
    return np.array(
        [
            dispersion.speed_share * throw.speed_mps,
            dispersion.elevation_deg + limits.elevation_step_deg / 2,
            dispersion.azimuth_deg + limits.azimuth_step_deg / 2 + unsure_deg(profile),
            dispersion.spin_rpm,
            side_sigma,
        ]
    )


def mouth_samples(profile: Profile, throw: Throw, balls: int, random: np.random.Generator) -> Array:
    """``balls`` throws around this one; shape (balls, 5), columns MOUTH_QUANTITIES.

    The same generator state gives the same samples. Speeds that would fall below a tenth of the
    wished one (never, for a plausible dispersion) are held there: a ball never flies backwards.
    """
    centre = np.array(
        [
            throw.speed_mps,
            throw.elevation_deg,
            throw.azimuth_deg,
            throw.top_rpm,
            throw.side_rpm,
        ]
    )
    drawn = centre + mouth_sigmas(profile, throw) * random.standard_normal((balls, 5))
    drawn[:, 0] = np.maximum(drawn[:, 0], throw.speed_mps / 10)
    return drawn


def ground_covariance(jacobian: Array, sigmas: Array) -> Array:
    """J S J' for ``jacobian`` (..., 2, 5) in m per mouth unit and ``sigmas`` (..., 5)."""
    scaled = jacobian * sigmas[..., None, :]
    product: Array = scaled @ np.swapaxes(scaled, -1, -2)
    return product


def ellipse_of(covariance: Array) -> GroundEllipse:
    """The one-sigma ellipse of a (2, 2) covariance."""
    values, vectors = np.linalg.eigh(covariance)
    minor, major = np.sqrt(np.maximum(values, 0.0))
    turn = math.degrees(math.atan2(vectors[1, 1], vectors[0, 1]))
    # An axis has no sense of direction: keep it between -90 and 90.
    turn = turn - 180 if turn > 90 else turn + 180 if turn <= -90 else turn
    return GroundEllipse(float(major), float(minor), turn)


def share_inside(radius_m: float, covariance: Array, points: int = 720) -> float:
    """Share of balls within ``radius_m`` of the mean, for a normal scatter on the ground.

    With half axes a, b: 1 - mean over all angles t of exp(-r^2 / (2 s(t)^2)) weighted by the
    density of directions; the integral over the angle is done by the rectangle rule, which is
    exact to rounding for a smooth periodic function.
    """
    values = np.maximum(np.linalg.eigvalsh(covariance), 1e-18)
    minor, major = np.sqrt(values)
    angles = np.arange(points) * (2 * math.pi / points)
    inverse = (np.cos(angles) / major) ** 2 + (np.sin(angles) / minor) ** 2
    density = 1 / (points * major * minor * inverse)
    return float(np.sum(density * -np.expm1(-(radius_m**2) * inverse / 2)))
