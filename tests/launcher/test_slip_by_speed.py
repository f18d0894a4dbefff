"""Slip that goes with the wheels' speed: there and back, and profiles that do not have it."""

from __future__ import annotations

from typing import Any

import msgspec
import pytest
from hypothesis import given
from hypothesis import strategies as st

from feedscript.launcher.kinematics import exact_setting, throw_of
from feedscript.launcher.profile.model import Profile, canonical_json
from feedscript.launcher.profile.read_profile import parse_profile
from feedscript.launcher.setting import Setting
from feedscript.launcher.throw import Throw
from feedscript.shipped import shipped_folder
from tests.launcher.tuning.synthetic import profile_named


def with_power(name: str, power: float) -> Profile:
    profile = profile_named(name)
    drive: Any = profile.drive
    return msgspec.structs.replace(profile, drive=msgspec.structs.replace(drive, slip_power=power))


@given(
    name=st.sampled_from(["garage", "three-wheels", "single-wheel"]),
    power=st.floats(-0.4, 0.4),
    speed=st.floats(8, 35),
)
def test_a_setting_for_a_throw_gives_that_throw(name: str, power: float, speed: float) -> None:
    profile = with_power(name, power)
    setting = exact_setting(profile, throw_of_speed(profile, speed))
    assert isinstance(setting, Setting)
    assert throw_of(profile, setting).speed_mps == pytest.approx(speed)


def throw_of_speed(profile: Profile, speed: float) -> Throw:
    from feedscript.launcher.kinematics import natural_spin

    top, _ = natural_spin(profile.drive, speed) or (600.0, 0.0)
    return Throw(speed_mps=speed, elevation_deg=5.0, azimuth_deg=0.0, top_rpm=top)


def test_slip_is_the_profiles_own_where_the_rims_go_at_twenty_metres_a_second() -> None:
    """And with power 0.2 a ball of rims twice as fast leaves 2 ** 1.2 times as fast."""
    profile = with_power("garage", 0.2)
    rpm = 20.0 * 60 / (3.141592653589793 * 0.2)
    speeds = [
        throw_of(
            profile, Setting(drives=(n * rpm, n * rpm), pan_deg=0.0, tilt_deg=0.0, roll_deg=0.0)
        ).speed_mps
        for n in (1, 2)
    ]
    assert speeds[0] == pytest.approx(20.0 * 0.92)
    assert speeds[1] / speeds[0] == pytest.approx(2**1.2)


def test_a_profile_without_it_reads_and_hashes_as_ever() -> None:
    text = (shipped_folder() / "launchers" / "garage.toml").read_text()
    plain = parse_profile(text, "mine.toml").profile
    assert plain is not None
    assert b"slip_power" not in canonical_json(plain)
    told = parse_profile(text.replace("squeeze =", "slip_power = -0.1\nsqueeze ="), "m").profile
    assert told is not None
    assert told == with_power("garage", -0.1)
    wrong = parse_profile(text.replace("squeeze =", "slip_power = 3.0\nsqueeze ="), "m")
    assert wrong.profile is None
