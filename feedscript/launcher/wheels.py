"""Wheels around a ball: surface speeds from speed and spin, and back.

A wheel at angle q (clockwise from straight above, seen from behind the launcher) touches the ball
at a lever arm R = squeeze * gap / 2. Without slip the ball's surface there moves with the wheel:
wheel = v + R (W_top cos q - W_across sin q), rigid-body kinematics. ``slip`` scales all of it:
the ball leaves with slip times what it would have without. Where fast wheels grip otherwise than
slow ones, slip itself goes as a power of the rims' mean speed u: slip (u / 20 m/s) ** slip_power,
which falls back to the one slip at power 0 and can be solved for u at every ball speed.

Two wheels, no slip: v = (v1 + v2) / 2 and W = (v1 - v2) / (2 R). What counts is how fast the rims
move: wheels of different size turn at different speeds for the same ball.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

from feedscript.launcher.profile.drives import OneWheel, ThreeWheels, TwoWheels

RPM_PER_RADPS = 30 / math.pi
#: The rims' speed at which ``slip`` is the slip whatever its power. Design value.
_SLIP_AT_MPS = 20.0


def surface_mps(diameter_m: float, rpm: float) -> float:
    """Speed of a wheel's rim: pi D N / 60."""
    return math.pi * diameter_m * rpm / 60


def rpm_at(diameter_m: float, speed_mps: float) -> float:
    """Wheel speed whose rim moves at ``speed_mps``."""
    return speed_mps * 60 / (math.pi * diameter_m)


def diameters_m(drive: TwoWheels | ThreeWheels) -> tuple[float, ...]:
    """How large each wheel is, in the order of the drives."""
    if isinstance(drive, ThreeWheels):
        return (drive.wheel_diameter_m,) * 3
    return drive.wheel_diameter_m, drive.bottom_wheel_diameter_m or drive.wheel_diameter_m


def slip_of_rims(drive: TwoWheels | ThreeWheels | OneWheel, free_mps: float) -> float:
    """Slip where the ball would leave at ``free_mps`` without any."""
    if free_mps <= 0 or drive.slip_power == 0:
        return drive.slip
    return float(drive.slip * (free_mps / _SLIP_AT_MPS) ** drive.slip_power)


def slip_of_ball(drive: TwoWheels | ThreeWheels | OneWheel, speed_mps: float) -> float:
    """Slip where the ball leaves at ``speed_mps``: inverse of ``slip_of_rims``."""
    if speed_mps <= 0 or drive.slip_power == 0:
        return drive.slip
    over = speed_mps / (drive.slip * _SLIP_AT_MPS)
    return float(drive.slip * over ** (drive.slip_power / (1 + drive.slip_power)))


def angles_deg(drive: TwoWheels | ThreeWheels, roll_deg: float) -> tuple[float, ...]:
    """Where the wheels sit, in the order of the drives."""
    if isinstance(drive, TwoWheels):
        return (roll_deg, roll_deg + 180.0)
    return tuple(drive.first_wheel_deg + 120.0 * k for k in range(3))


def wheels_for(
    drive: TwoWheels | ThreeWheels, speed_mps: float, top_rpm: float, across: float, roll_deg: float
) -> tuple[float, ...]:
    """Wheel speeds (rpm) for a ball's speed and its spin across the throw (rpm)."""
    lever_m = drive.squeeze * drive.gap_m / 2
    top, side = top_rpm / RPM_PER_RADPS, across / RPM_PER_RADPS
    slip = slip_of_ball(drive, speed_mps)
    rims = [
        (speed_mps + lever_m * (top * math.cos(q) - side * math.sin(q))) / slip
        for q in map(math.radians, angles_deg(drive, roll_deg))
    ]
    return tuple(map(rpm_at, diameters_m(drive), rims))


def ball_from(
    drive: TwoWheels | ThreeWheels, wheels_rpm: Sequence[float], roll_deg: float
) -> tuple[float, float, float]:
    """(speed m/s, top rpm, across rpm) of the ball that these wheels throw."""
    lever_m = drive.squeeze * drive.gap_m / 2
    rims = list(map(surface_mps, diameters_m(drive), wheels_rpm))
    turns = [math.radians(q) for q in angles_deg(drive, roll_deg)]
    slip = slip_of_rims(drive, sum(rims) / len(rims))
    # Two opposite wheels see one axis of spin, three evenly spread ones see both.
    weight = (1 / 2 if isinstance(drive, TwoWheels) else 2 / 3) * slip / lever_m
    speed = slip * sum(rims) / len(rims)
    top = weight * sum(rim * math.cos(q) for rim, q in zip(rims, turns, strict=True))
    across = -weight * sum(rim * math.sin(q) for rim, q in zip(rims, turns, strict=True))
    return speed, top * RPM_PER_RADPS, across * RPM_PER_RADPS


def roll_for(drive: TwoWheels, top_rpm: float, across: float) -> float | None:
    """The roll inside the head's range that gives this axis of spin, nearest upright; or None.

    The axis repeats every half turn (the wheels swap roles), so there may be several.
    """
    if math.hypot(top_rpm, across) < 1e-9:
        return drive.roll_deg.nearest(0.0)
    axis = math.degrees(math.atan2(-across, top_rpm))
    fits = [
        axis + half_turn
        for half_turn in (-360.0, -180.0, 0.0, 180.0, 360.0)
        if drive.roll_deg.holds(axis + half_turn, slack=1e-6)
    ]
    return min(fits, key=lambda roll: (abs(roll), roll), default=None)


def rolling_spin_rpm(drive: OneWheel, speed_mps: float) -> float:
    """Spin of a ball that rolls along the pad: share * v / R, with R half the gap."""
    return drive.rolling_share * speed_mps / (drive.gap_m / 2) * RPM_PER_RADPS


def pad_wheel_rpm(drive: OneWheel, speed_mps: float) -> float:
    """Wheel speed for a ball speed: rolling on a pad, the ball moves at half the rim's speed."""
    return rpm_at(drive.wheel_diameter_m, 2 * speed_mps / slip_of_ball(drive, speed_mps))


def pad_ball_mps(drive: OneWheel, rpm: float) -> float:
    """Ball speed from the one wheel's speed."""
    free_mps = surface_mps(drive.wheel_diameter_m, rpm) / 2
    return slip_of_rims(drive, free_mps) * free_mps
