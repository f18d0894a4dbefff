"""How long a launcher needs between two balls."""

from __future__ import annotations

import math

import msgspec
import pytest
from hypothesis import given
from hypothesis import strategies as st

from feedscript.launcher.change import (
    ChangeTime,
    change_s,
    change_time,
    recovery_s,
    turning_s,
    wheel_rates,
)
from feedscript.launcher.profile.drives import MotorRates, Range
from feedscript.launcher.setting import Setting
from tests.launcher.examples import garage

PROFILE = garage()
MOTOR = MotorRates(
    wheel_inertia_kgm2=0.002, rotor_inertia_kgm2=0.0001, gearing=2.0, torque_nm=0.2,
    brake_torque_nm=0.05, friction_torque_nm=0.04,
)  # fmt: skip

settings_of_two_wheels = st.builds(
    Setting,
    drives=st.tuples(st.floats(300, 4200), st.floats(300, 4200)),
    pan_deg=st.floats(-20, 20),
    tilt_deg=st.floats(-4, 45),
)


def at(top=2000.0, bottom=2000.0, pan=0.0, tilt=5.0) -> Setting:
    return Setting(drives=(top, bottom), pan_deg=pan, tilt_deg=tilt)


def slowest(change: ChangeTime) -> str:
    """What everything waits for."""
    return max(change.parts, key=lambda part: part.seconds).name


def test_the_same_ball_again_waits_for_the_least_interval() -> None:
    assert change_s(PROFILE, at(), at()) == PROFILE.limits.least_interval_s


def test_a_long_pan_is_what_everything_waits_for() -> None:
    """30 degrees at 18 degrees a second, then 0.25 s to settle and 0.18 s of gate: by hand."""
    change = change_time(PROFILE, at(pan=-15), at(pan=15))
    assert slowest(change) == "panning"
    assert change.seconds == pytest.approx(30 / 18 + 0.25 + 0.18)


def test_a_short_way_is_over_before_the_rate_is_reached() -> None:
    """From rest to rest over 8 degrees, gaining 2 a second each second: 2 s each way, by hand."""
    assert turning_s(8.0, 100.0, 2.0) == pytest.approx(4.0)


@given(st.floats(0, 180), st.floats(1, 200), st.floats(1, 2000))
def test_an_axis_that_must_gain_its_rate_is_never_sooner_there(turn, rate, gain) -> None:
    """Nor is there a jump where the rate is just reached."""
    limited = turning_s(turn, rate, gain)
    assert limited >= turning_s(turn, rate, 0.0) - 1e-9
    assert turning_s(turn + 1e-6, rate, gain) - limited == pytest.approx(0, abs=2e-3)
    assert turning_s(turn + 1.0, rate, gain) > limited


def test_slowing_down_costs_more_than_speeding_up() -> None:
    """1000 rpm at 1100 and at 750 rpm a second, and 0.6 s to recover: by hand."""
    up = change_s(PROFILE, at(top=1000), at(top=2000))
    down = change_s(PROFILE, at(top=2000), at(top=1000))
    assert up == pytest.approx(max(1.8, 1000 / 1100 + 0.6 + 0.43))
    assert down == pytest.approx(1000 / 750 + 0.6 + 0.43)
    assert "2000 to 1000 rpm" in slowest(change_time(PROFILE, at(top=2000), at(top=1000)))


def test_rates_from_a_motor_follow_from_torque_and_inertia() -> None:
    """By hand: inertia 0.002 + 4 * 0.0001 = 0.0024; up (0.4 - 0.04), down (0.1 + 0.04) N m."""
    up, down = wheel_rates(MOTOR)
    assert up == pytest.approx(0.36 / 0.0024 * 30 / math.pi)
    assert down == pytest.approx(0.14 / 0.0024 * 30 / math.pi)


def test_a_ball_slows_the_wheels_by_the_momentum_form() -> None:
    """Momentum by hand: I 0.002 kg m2, r 0.1 m, m 57.7 g leaves 0.8739 of the wheels' speed.

    The house reckons with the heaviest ball (59.4 g), so slightly less is left: 0.8707.
    """
    ungeared = msgspec.structs.replace(MOTOR, rotor_inertia_kgm2=0.0)
    lost_rpm = recovery_s(ungeared, 0.2, 2, 2000) * wheel_rates(ungeared)[0]
    kept = 1 - lost_rpm / 2000
    assert pytest.approx(0.8739, abs=1e-4) == 1 / (1 + 0.0577 * 0.1**2 / (2 * 0.002))
    assert kept == pytest.approx(1 / (1 + 0.0594 * 0.1**2 / (2 * 0.002)), abs=1e-9)


def test_a_motor_that_cannot_turn_its_wheel_never_gets_there() -> None:
    weak = msgspec.structs.replace(MOTOR, torque_nm=0.01)
    profile = msgspec.structs.replace(
        PROFILE, drive=msgspec.structs.replace(PROFILE.drive, response=weak)
    )
    assert change_s(profile, at(), at(top=2500)) == math.inf


def test_from_rest_the_wheels_run_all_the_way_up() -> None:
    assert change_s(PROFILE, None, at(top=3300, bottom=300)) >= 3300 / 1100


def test_from_rest_the_head_may_stand_anywhere() -> None:
    """Tilt over 49 degrees at 14 a second, pan over 44 at 18, then 0.25 s and 0.18 s: by hand."""
    change = change_time(PROFILE, None, at(top=1000, bottom=1000))
    took_s = {part.name: part.seconds for part in change.parts}
    assert took_s["tilting from wherever the head stands"] == pytest.approx(49 / 14 + 0.43)
    assert took_s["panning from wherever the head stands"] == pytest.approx(44 / 18 + 0.43)
    assert slowest(change) == "tilting from wherever the head stands"


@given(settings_of_two_wheels, settings_of_two_wheels)
def test_nowhere_it_may_stand_is_further(stands, after) -> None:
    stopped = msgspec.structs.replace(stands, drives=(0.0, 0.0))
    assert change_s(PROFILE, None, after) >= change_s(PROFILE, stopped, after)


def test_what_a_head_cannot_do_is_not_waited_for_at_rest() -> None:
    """No axis: no range. One that swings by itself is never waited for, at rest neither."""
    fixed = Range(least=0.0, most=0.0)
    limits = msgspec.structs.replace(PROFILE.limits, azimuth_deg=fixed, elevation_deg=fixed)
    profile = msgspec.structs.replace(PROFILE, limits=limits)
    change = change_time(profile, None, at(top=1000, bottom=1000, tilt=0.0))
    heads = [part.seconds for part in change.parts if "head stands" in part.name]
    assert heads == pytest.approx([0.43, 0.43])
    assert slowest(change).startswith("top wheel")


@given(settings_of_two_wheels, settings_of_two_wheels, settings_of_two_wheels)
def test_a_detour_is_never_quicker(one, two, three) -> None:
    """Also: never below the gate's cycle and the least interval."""
    direct = change_s(PROFILE, one, three)
    assert direct <= change_s(PROFILE, one, two) + change_s(PROFILE, two, three) + 1e-9
    assert direct >= max(PROFILE.feeder.gate_cycle_s, PROFILE.limits.least_interval_s)
