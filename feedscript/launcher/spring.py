"""A drawn spring behind the ball: draw from speed, and back.

A linear spring (Hooke) drawn by x from its free length holds k x^2 / 2. The share ``efficiency`` of
it moves ball and carriage together, v = x sqrt(e k / (m_ball + m_moving)): speed goes with the
draw. A massive spring moves like a third of its mass at the end (Rayleigh's approximation, from
memory); that third is part of ``moving_mass_g``.
"""

from __future__ import annotations

import math

from feedscript.launcher.profile.drives import Spring
from feedscript.launcher.wheels import RPM_PER_RADPS


def _mps_per_mm(drive: Spring) -> float:
    mass_kg = (drive.ball_mass_g + drive.moving_mass_g) / 1000
    return math.sqrt(drive.efficiency * drive.stiffness_n_per_m / mass_kg) / 1000


def draw_mm(drive: Spring, speed_mps: float) -> float:
    """How far to draw for a ball speed."""
    return speed_mps / _mps_per_mm(drive)


def ball_mps(drive: Spring, draw: float) -> float:
    """Ball speed from the draw in mm."""
    return draw * _mps_per_mm(drive)


def ball_top_rpm(drive: Spring, speed_mps: float) -> float:
    """The top spin (backspin negative) that the ball takes with it at this speed."""
    return drive.spin_share * speed_mps / drive.ball_radius_m * RPM_PER_RADPS


def drawing_s(drive: Spring, draw: float) -> float:
    """From let go to drawn so far in mm."""
    return draw / drive.draw_rate_mmps
