"""A profile's limits as the numbers that a launcher stores (``shared/protocol.md``, section 7)."""

from __future__ import annotations

import math

from feedscript.launcher.profile.drives import (
    Air,
    Arm,
    Drive,
    OneWheel,
    Range,
    Spring,
    ThreeWheels,
    TwoWheels,
    Valve,
)
from feedscript.launcher.profile.model import Profile
from feedscript_drivers.wire.protocol import Number, Times

#: How far a drive may be from what was asked and still count as arrived: a share of the most.
_SETTLED_SHARE = 0.01
_NO_ROLL = Range(0.0, 0.0)


def stored_numbers(profile: Profile) -> dict[Number, int]:
    """Every number that a launcher must hold before it arms. Limits are rounded inwards."""
    limits, feeder = profile.limits, profile.feeder
    first, second, third = drives_most(profile.drive)
    roll = profile.drive.roll_deg if isinstance(profile.drive, TwoWheels) else _NO_ROLL
    lead_ms = round(feeder.gate_lead_s * 1000)
    n = Number
    return {
        n.DRIVE_1_MOST: first,
        n.DRIVE_2_MOST: second,
        n.DRIVE_3_MOST: third,
        n.PAN_LEAST_CDEG: _up(limits.azimuth_deg.least),
        n.PAN_MOST_CDEG: _down(limits.azimuth_deg.most),
        n.TILT_LEAST_CDEG: _up(limits.elevation_deg.least),
        n.TILT_MOST_CDEG: _down(limits.elevation_deg.most),
        n.ROLL_LEAST_CDEG: _up(roll.least),
        n.ROLL_MOST_CDEG: _down(roll.most),
        n.LEAST_INTERVAL_MS: math.ceil(limits.least_interval_s * 1000 - 1e-6),
        n.HOPPER_BALLS: limits.hopper_balls,
        n.SETTLE_RPM: max(1, round(max(first, second, third) * _SETTLED_SHARE)),
        n.GATE_LEAD_MS: lead_ms,
        n.GATE_CLEAR_MS: (lead_ms + 1) // 2,
        n.PAN_RATE_CDEG_S: _down(limits.azimuth_rate_dps),
        n.TILT_RATE_CDEG_S: _down(limits.elevation_rate_dps),
        n.HOLD_LIMIT_MS: min(round(profile.guard.hold_limit_s * 1000), Times.HOLD_MOST),
    }


def drives_most(drive: Drive) -> tuple[int, int, int]:
    """The largest value of each of the wire's three drives; 0 where this kind has none."""
    match drive:
        case TwoWheels():
            most, count = drive.wheel_rpm.most, 2
        case ThreeWheels():
            most, count = drive.wheel_rpm.most, 3
        case OneWheel():
            most, count = drive.wheel_rpm.most, 1
        case Air():
            most, count = drive.pressure_hpa.most, 1
        case Valve():
            most, count = drive.table[-1][0], 1
        case Arm():
            most, count = drive.arm_rpm.most, 1
        case Spring():
            most, count = drive.draw_mm.most, 1
    values = [math.floor(most)] * count + [0, 0]
    return values[0], values[1], values[2]


def _up(angle_deg: float) -> int:
    return math.ceil(angle_deg * 100 - 1e-6)


def _down(angle_deg: float) -> int:
    return math.floor(angle_deg * 100 + 1e-6)
