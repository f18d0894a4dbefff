"""What a launcher can throw at all: the speeds and spins inside its drives' ranges and its limits.

Wheel speeds are linear in speed and spin, so at one speed the spins that keep every wheel in its
range form an interval whose ends are exact.
"""

from __future__ import annotations

import math

import msgspec

from feedscript.launcher import air, arm, spring, wheels
from feedscript.launcher.kinematics import drive_range, natural_spin
from feedscript.launcher.profile.drives import (
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


class SpinAt(msgspec.Struct, frozen=True):
    """At one speed, what spin there is to have; ends equal where speed fixes the spin."""

    speed_mps: float
    spin_rpm: Range


def speed_range(drive: Drive) -> Range:
    """Ball speeds between the drive's slowest and fastest, without spin where it can be chosen."""
    ends = drive_range(drive)
    if isinstance(drive, TwoWheels | ThreeWheels):
        sizes = wheels.diameters_m(drive)
        slowest = max(wheels.surface_mps(size, ends.least) for size in sizes)
        fastest = min(wheels.surface_mps(size, ends.most) for size in sizes)
        return Range(*(wheels.slip_of_rims(drive, rim) * rim for rim in (slowest, fastest)))
    if isinstance(drive, OneWheel):
        return Range(wheels.pad_ball_mps(drive, ends.least), wheels.pad_ball_mps(drive, ends.most))
    if isinstance(drive, Arm):
        return Range(arm.ball_mps(drive, ends.least), arm.ball_mps(drive, ends.most))
    if isinstance(drive, Spring):
        return Range(spring.ball_mps(drive, ends.least), spring.ball_mps(drive, ends.most))
    if isinstance(drive, Valve):
        return Range(air.valve_mps(drive, ends.least), air.valve_mps(drive, ends.most))
    return Range(air.ball_mps(drive, ends.least), air.ball_mps(drive, ends.most))


def top_range(drive: Drive, speed_mps: float) -> Range | None:
    """Top spin (backspin negative) at this speed, with no side spin; None where there is none."""
    return _spin_range(drive, speed_mps, side=False)


def across_range(drive: Drive, speed_mps: float) -> Range | None:
    """Spin across (curving to the ad side positive) at this speed, with no top spin."""
    return _spin_range(drive, speed_mps, side=True)


def envelope(profile: Profile, *, side: bool, points: int = 60) -> tuple[SpinAt, ...]:
    """Speeds from least to most with the spins to be had, inside drives and limits both."""
    limits = profile.limits
    allowed = limits.side_rpm if side else limits.spin_rpm
    reach = speed_range(profile.drive)
    low = max(reach.least, limits.speed_mps.least)
    high = min(reach.most, limits.speed_mps.most)
    found = []
    for k in range(points if high >= low else 0):
        speed_mps = low + (high - low) * k / (points - 1)
        spins = _spin_range(profile.drive, speed_mps, side=side)
        if spins is None:
            continue
        least, most = max(spins.least, allowed.least), min(spins.most, allowed.most)
        if least <= most:
            found.append(SpinAt(speed_mps, Range(least, most)))
    return tuple(found)


def _spin_range(drive: Drive, speed_mps: float, *, side: bool) -> Range | None:
    natural = natural_spin(drive, speed_mps)
    if natural is not None:
        spin = natural[1 if side else 0]
        return Range(spin, spin) if speed_range(drive).holds(speed_mps) else None
    assert isinstance(drive, TwoWheels | ThreeWheels)
    axis = (0.0, 1.0) if side else (1.0, 0.0)
    roll_deg: float | None = 0.0
    if isinstance(drive, TwoWheels):
        roll_deg = wheels.roll_for(drive, *axis)
    if roll_deg is None:
        return Range(0.0, 0.0) if speed_range(drive).holds(speed_mps) else None
    plain = wheels.wheels_for(drive, speed_mps, 0.0, 0.0, roll_deg)
    spun = wheels.wheels_for(drive, speed_mps, *axis, roll_deg)
    least, most = -math.inf, math.inf
    for start, end in zip(plain, spun, strict=True):
        ends = sorted(_until(edge, start, end - start) for edge in
                      (drive.wheel_rpm.least, drive.wheel_rpm.most))  # fmt: skip
        if not math.isfinite(ends[1]) and not drive.wheel_rpm.holds(start):
            return None
        least, most = max(least, ends[0]), min(most, ends[1])
    return Range(least, most) if least <= most else None


def _until(edge: float, start: float, slope: float) -> float:
    """The spin at which a wheel meets the edge of its range."""
    if abs(slope) < 1e-12:
        return math.inf if edge >= start else -math.inf
    return (edge - start) / slope
