"""A throwing arm: its speed at letting go from the ball's, and how long a swing takes.

The ball moves with the arm's end: v = slip * w * L. Swinging from rest through the sweep s under
constant torque, w^2 = 2 (torque / inertia) s, so there is a fastest arm, and the swing lasts
2 s / w. Ball spin follows speed: spin_share * v / R.
"""

from __future__ import annotations

import math

from feedscript.launcher.profile.drives import Arm
from feedscript.launcher.wheels import RPM_PER_RADPS


def arm_rpm(drive: Arm, speed_mps: float) -> float:
    """Arm speed at letting go for a ball speed."""
    return speed_mps / (drive.slip * drive.arm_m) * RPM_PER_RADPS


def ball_mps(drive: Arm, rpm: float) -> float:
    """Ball speed from the arm's speed at letting go."""
    return drive.slip * drive.arm_m * rpm / RPM_PER_RADPS


def ball_top_rpm(drive: Arm, speed_mps: float) -> float:
    """The top spin (backspin negative) that the ball takes with it at this speed."""
    return drive.spin_share * speed_mps / drive.ball_radius_m * RPM_PER_RADPS


def fastest_rpm(drive: Arm) -> float:
    """What the torque reaches over the sweep."""
    sweep = math.radians(drive.sweep_deg)
    return math.sqrt(2 * drive.torque_nm / drive.arm_inertia_kgm2 * sweep) * RPM_PER_RADPS


def swing_s(drive: Arm, rpm: float) -> float:
    """From rest to letting go at this speed."""
    if rpm <= 0:
        return 0.0
    return 2 * math.radians(drive.sweep_deg) / (rpm / RPM_PER_RADPS)
