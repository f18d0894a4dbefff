"""A throw: how the ball leaves the mouth, in the words of a feed and in those of a head.

A feed speaks of top spin (about the horizontal axis left of the throw) and side spin (about the
vertical, positive curves to the ad side). A head of wheels can only spin the ball about axes
across the throw. With the throw along d, top is the unit vector t = (-cos a, sin a, 0) and across
is the unit vector u, the downward vertical with its part along d removed. A side wish of s about
the vertical therefore flies as s cos(elevation) about u: the part along the throw is lost.
"""

from __future__ import annotations

import math

import msgspec


class Throw(msgspec.Struct, frozen=True, kw_only=True):
    """How a ball leaves the mouth. Azimuth in court axes, positive to the right (+x)."""

    speed_mps: float
    elevation_deg: float
    azimuth_deg: float
    top_rpm: float = 0.0
    side_rpm: float = 0.0


def across_rpm(side_rpm: float, elevation_deg: float) -> float:
    """The spin across the throw that is left of a side wish about the vertical."""
    return side_rpm * math.cos(math.radians(elevation_deg))


def side_rpm(across_rpm: float, elevation_deg: float) -> float:
    """The side wish that flies as this spin across the throw; elevation short of 90 degrees."""
    return across_rpm / math.cos(math.radians(elevation_deg))


def signed_spin_rpm(top_rpm: float, side_rpm: float) -> float:
    """The magnitude of the spin, negative where backspin prevails, as a profile counts it."""
    total = math.hypot(top_rpm, side_rpm)
    return -total if top_rpm < 0 else total
