"""What a wheel must bear: the momentum that a ball takes, and what its motor makes up for.

What a ball gains along its way the rims lose at their radius: m v r = n I dw for n wheels, any text
of mechanics (angular momentum). A single wheel loses less, as its pad pushes the rolling ball on.
"""

from __future__ import annotations

from typing import TypeAlias

import msgspec

from feedscript.building.build_file import Build
from feedscript.flight.ball import DEFAULT_BALL
from feedscript.launcher.change import wheel_rates
from feedscript.launcher.profile.drives import OneWheel, ThreeWheels, TwoWheels
from feedscript.launcher.profile.model import Profile
from feedscript.launcher.wheels import RPM_PER_RADPS, pad_wheel_rpm, wheels_for

Wheeled: TypeAlias = TwoWheels | ThreeWheels | OneWheel
#: The heaviest ball that the rules allow.
BALL_KG = DEFAULT_BALL.mass_g.most / 1000


class WheelWork(msgspec.Struct, frozen=True, kw_only=True):
    """One wheel's share. Speeds in rad/s."""

    count: int
    inertia_kgm2: float
    fastest_radps: float  # that it may be asked for
    ball_radps: float  # for the fastest ball
    drop_share: float  # of its speed, that this ball takes
    ball_j: float  # that it takes from this wheel
    spin_up_nm: float
    spin_up_s: float  # from rest to the fastest
    spin_down_nm: float
    spin_down_s: float
    steady_nm: float  # feeding the fastest ball as often as the profile allows

    @property
    def spin_up_w(self) -> float:
        """Mechanical power while it still speeds up at the fastest."""
        return self.spin_up_nm * self.fastest_radps

    @property
    def steady_w(self) -> float:
        return self.steady_nm * self.ball_radps

    @property
    def stored_j(self) -> float:
        """What it holds at the fastest: I w^2 / 2."""
        return self.inertia_kgm2 * self.fastest_radps**2 / 2


def wheel_work(profile: Profile, drive: Wheeled, build: Build) -> WheelWork:
    """What one wheel must bear."""
    count = {TwoWheels: 2, ThreeWheels: 3, OneWheel: 1}[type(drive)]
    radius_m = drive.wheel_diameter_m / 2
    inertia = build.wheel_shape * build.wheel_mass_kg * radius_m**2
    speed_mps = profile.limits.speed_mps.most
    ball_radps = _rpm_for(drive, speed_mps) / RPM_PER_RADPS
    lost_radps = min(BALL_KG * speed_mps * radius_m / (count * inertia), ball_radps)
    ball_j = inertia * (ball_radps**2 - (ball_radps - lost_radps) ** 2) / 2
    fastest = drive.wheel_rpm.most / RPM_PER_RADPS
    up, down = (rate / RPM_PER_RADPS for rate in wheel_rates(drive.response))
    return WheelWork(
        count=count,
        inertia_kgm2=inertia,
        fastest_radps=fastest,
        ball_radps=ball_radps,
        drop_share=lost_radps / ball_radps,
        ball_j=ball_j,
        spin_up_nm=inertia * up + build.friction_nm,
        spin_up_s=fastest / up,
        spin_down_nm=max(inertia * down - build.friction_nm, 0.0),
        spin_down_s=fastest / down,
        steady_nm=build.friction_nm + ball_j / profile.limits.least_interval_s / ball_radps,
    )


def _rpm_for(drive: Wheeled, speed_mps: float) -> float:
    """A wheel's speed for a ball without spin."""
    if isinstance(drive, OneWheel):
        return pad_wheel_rpm(drive, speed_mps)
    return max(wheels_for(drive, speed_mps, 0.0, 0.0, 0.0))
