"""Every kind of launcher: throws to settings and back, and each one's own physics by hand."""

from __future__ import annotations

import math

import msgspec
import pytest
from hypothesis import given
from hypothesis import strategies as st

from feedscript.diagnostics import Diagnostic
from feedscript.launcher import air, arm, spring
from feedscript.launcher.change import change_s, change_time
from feedscript.launcher.envelope import across_range, envelope, speed_range, top_range
from feedscript.launcher.kinematics import (
    drive_names,
    drive_range,
    exact_setting,
    natural_spin,
    setting_for,
    throw_of,
)
from feedscript.launcher.profile.drives import Air, Arm, OneWheel, Spring, TwoWheels, Valve
from feedscript.launcher.profile.model import Kind, Profile
from feedscript.launcher.profile.read_profile import parse_profile
from feedscript.launcher.setting import Setting
from feedscript.launcher.throw import Throw, side_rpm
from feedscript.launcher.wheels import ball_from, pad_ball_mps, rolling_spin_rpm
from tests.launcher.examples import PROFILES, profile_at, shipped_profiles

ALL = {path.stem: profile_at(path) for path in shipped_profiles()}


def named(stem: str) -> Profile:
    return profile_at(PROFILES / f"{stem}.toml")


def test_there_is_an_example_of_every_kind_and_one_whose_head_rolls() -> None:
    assert {profile.kind for profile in ALL.values()} == set(Kind)
    drives = [profile.drive for profile in ALL.values()]
    assert any(isinstance(d, TwoWheels) and d.roll_deg.most > 0 for d in drives)


@st.composite
def possible_throws(draw, profile: Profile) -> Throw:
    """A throw inside what the launcher can do, taken from its envelope."""
    limits, drive = profile.limits, profile.drive
    reach = speed_range(drive)
    speed = draw(st.floats(max(reach.least, 1.0), reach.most))
    elevation = draw(st.floats(limits.elevation_deg.least, limits.elevation_deg.most))
    azimuth = draw(st.floats(limits.azimuth_deg.least, limits.azimuth_deg.most))
    natural = natural_spin(drive, speed)
    if natural is not None:
        top, side = natural[0], side_rpm(natural[1], elevation)
    else:
        top = draw(st.floats(limits.spin_rpm.least, limits.spin_rpm.most))
        side = draw(st.floats(limits.side_rpm.least, limits.side_rpm.most))
    return Throw(
        speed_mps=speed, elevation_deg=elevation, azimuth_deg=azimuth, top_rpm=top, side_rpm=side
    )


@pytest.mark.parametrize("stem", list(ALL))
@given(st.data(), st.floats(-30, 30))
def test_a_throw_comes_back_from_its_setting(stem, data, facing_deg) -> None:
    profile = ALL[stem]
    throw = data.draw(possible_throws(profile))
    setting = exact_setting(profile, throw, facing_deg)
    assert isinstance(setting, Setting), setting
    assert len(setting.drives) == len(drive_names(profile.drive))
    back = throw_of(profile, setting, facing_deg)
    # A launcher that swings by itself is asked for no direction: it throws to where it faces.
    turned = profile.sweep is not None and setting.pan_deg == 0
    assert back.azimuth_deg == pytest.approx(facing_deg if turned else throw.azimuth_deg, abs=1e-6)
    for name in ("speed_mps", "elevation_deg"):
        assert getattr(back, name) == pytest.approx(getattr(throw, name), abs=1e-6)
    for name in ("top_rpm", "side_rpm"):
        assert getattr(back, name) == pytest.approx(getattr(throw, name), abs=1e-3)


@pytest.mark.parametrize("stem", list(ALL))
@given(st.data())
def test_a_setting_comes_back_from_its_throw(stem, data) -> None:
    """The other way round, for any drives in range and any way of pointing."""
    profile = ALL[stem]
    ends = drive_range(profile.drive)
    drives = tuple(
        data.draw(st.floats(max(ends.least, 1.0), ends.most)) for _ in drive_names(profile.drive)
    )
    roll = 0.0
    if isinstance(profile.drive, TwoWheels):
        held = profile.drive.roll_deg
        roll = data.draw(st.floats(held.least, held.most))
    setting = Setting(
        drives=drives, pan_deg=data.draw(st.floats(-20, 20)), tilt_deg=data.draw(st.floats(0, 45)),
        roll_deg=roll,
    )  # fmt: skip
    throw = throw_of(profile, setting)
    again = exact_setting(profile, throw)
    assert isinstance(again, Setting)
    back = throw_of(profile, again)
    # A head may find the same spin half a turn away with its wheels swapped: compare the throws.
    assert back.speed_mps == pytest.approx(throw.speed_mps, abs=1e-6)
    assert back.top_rpm == pytest.approx(throw.top_rpm, abs=1e-3)
    assert back.side_rpm == pytest.approx(throw.side_rpm, abs=1e-3)
    if not isinstance(profile.drive, TwoWheels):
        assert again.drives == pytest.approx(setting.drives, abs=1e-5)


@pytest.mark.parametrize(
    "stem", ["single-wheel", "air-barrel", "timed-valve", "throwing-arm", "notched-spring"]
)
def test_a_spin_that_cannot_be_chosen_is_refused_with_the_one_there_is(stem) -> None:
    profile = named(stem)
    throw = Throw(speed_mps=20, elevation_deg=10, azimuth_deg=0, top_rpm=900)
    refused = setting_for(profile, throw)
    assert isinstance(refused, Diagnostic)
    assert refused.slug == "cannot-throw"
    natural = natural_spin(profile.drive, 20)
    assert natural is not None
    expected = {
        "single-wheel": f"top {natural[0]:.0f} rpm",
        "air-barrel": "leave the spin out",
        "timed-valve": "leave the spin out",
        "throwing-arm": f"back {-natural[0]:.0f} rpm",
        "notched-spring": f"back {-natural[0]:.0f} rpm",
    }[stem]
    assert expected in refused.help


def test_one_wheel_and_a_pad_without_slip() -> None:
    """Rolling by hand: the ball moves at half the rim's speed and spins at rim / (2 R)."""
    drive = named("single-wheel").drive
    assert isinstance(drive, OneWheel)
    ideal = msgspec.structs.replace(drive, slip=1.0, rolling_share=1.0)
    rim = math.pi * 0.3 * 2000 / 60
    speed = pad_ball_mps(ideal, 2000)
    assert speed == pytest.approx(rim / 2)
    assert rolling_spin_rpm(ideal, speed) * math.pi / 30 == pytest.approx(rim / (2 * 0.028))


def test_a_wheel_below_the_ball_gives_backspin() -> None:
    drive = msgspec.structs.replace(named("single-wheel").drive, wheel_deg=180.0)
    top, across = natural_spin(drive, 20) or (0, 0)
    assert top < 0
    assert across == pytest.approx(0, abs=1e-9)


def test_air_gives_the_work_of_an_adiabatic_expansion() -> None:
    """Against the integral of pressure over volume, done in small steps."""
    drive = named("air-barrel").drive
    assert isinstance(drive, Air)
    tank, swept = drive.tank_litres / 1000, math.pi * (drive.bore_m / 2) ** 2 * drive.barrel_m
    start, steps = 101325 + 30000, 20000
    work = sum(
        (start * (tank / (tank + swept * (k + 0.5) / steps)) ** 1.4 - 101325) * swept / steps
        for k in range(steps)
    )
    speed = math.sqrt(2 * drive.efficiency * work / (drive.ball_mass_g / 1000))
    assert air.ball_mps(drive, 300) == pytest.approx(speed, rel=1e-6)


@pytest.mark.parametrize(
    ("opening", "speed"),
    [
        (60, 17.4),  # as it was measured
        (70, 19.1),  # half way from 17.4 at 60 to 20.8 at 80
        (25, 10.4 - 3.8 / 3),  # the first line goes on, 3.8 m/s in 15 ms, for the rules to name
        (200, 30.8),  # and the last one, 3.0 m/s in 50 ms
        (0, 2.8),
        (-20, 0.0),  # no ball comes back
    ],
)
def test_a_valve_gives_what_was_measured_and_straight_lines_between(opening, speed) -> None:
    drive = named("timed-valve").drive
    assert isinstance(drive, Valve)
    assert air.valve_mps(drive, opening) == pytest.approx(speed)
    tuned = msgspec.structs.replace(drive, speed_factor=0.9)
    assert air.valve_mps(tuned, opening) == pytest.approx(0.9 * speed)
    if speed:
        assert air.opening_ms(tuned, 0.9 * speed) == pytest.approx(opening)


def test_a_valves_tank_is_filled_again_after_every_ball() -> None:
    """Whatever was let out: 2.4 s, then 0.3 s to settle and 0.2 s to the mouth."""
    short, long = (Setting(drives=(ms,), pan_deg=0, tilt_deg=5) for ms in (30.0, 190.0))
    change = change_time(named("timed-valve"), long, short)
    assert change.parts[0].name == "filling the tank"
    assert change.parts[0].seconds == pytest.approx(2.4 + 0.3 + 0.2)


def test_a_spring_gives_what_its_force_summed_over_the_way_gives() -> None:
    """Against the work of the force, in small steps, and the energy of all that then moves."""
    drive = named("notched-spring").drive
    assert isinstance(drive, Spring)
    steps, draw_m = 20000, 0.23
    work = sum(
        drive.stiffness_n_per_m * draw_m * (k + 0.5) / steps * draw_m / steps for k in range(steps)
    )
    moving_kg = (drive.ball_mass_g + drive.moving_mass_g) / 1000
    speed = math.sqrt(2 * drive.efficiency * work / moving_kg)
    assert spring.ball_mps(drive, 230) == pytest.approx(speed, rel=1e-6)


def test_a_spring_is_drawn_anew_after_every_ball() -> None:
    """230 mm at 160 mm/s, then 0.3 s to settle and 0.12 s of gate: by hand."""
    setting = Setting(drives=(230.0,), pan_deg=0, tilt_deg=5)
    change = change_time(named("notched-spring"), setting, setting)
    assert change.parts[0].name == "drawing the spring"
    assert change.parts[0].seconds == pytest.approx(230 / 160 + 0.3 + 0.12)


@given(st.floats(500, 4200), st.floats(500, 4200))
def test_wheels_of_different_size_throw_what_their_rims_do(top_rpm, bottom_rpm) -> None:
    """Rolling by hand: mean of the rims, and their difference over twice the lever arm."""
    drive = named("unequal-wheels").drive
    assert isinstance(drive, TwoWheels)
    upper, lower = (math.pi * d * n / 60 for d, n in ((0.26, top_rpm), (0.16, bottom_rpm)))
    lever = 1.05 * 0.053 / 2
    speed, top, across = ball_from(drive, (top_rpm, bottom_rpm), 0.0)
    assert speed == pytest.approx(0.9 * (upper + lower) / 2)
    assert top * math.pi / 30 == pytest.approx(0.9 * (upper - lower) / (2 * lever))
    assert across == pytest.approx(0, abs=1e-9)


def test_a_flat_ball_of_unequal_wheels_needs_the_small_one_faster() -> None:
    setting = setting_for(
        named("unequal-wheels"), Throw(speed_mps=20, elevation_deg=5, azimuth_deg=0)
    )
    assert isinstance(setting, Setting)
    assert setting.drives[1] / setting.drives[0] == pytest.approx(0.26 / 0.16, abs=1e-3)


def test_a_shot_must_be_filled_up_again() -> None:
    profile = named("air-barrel")
    setting = Setting(drives=(300.0,), pan_deg=0, tilt_deg=5)
    change = change_time(profile, setting, setting)
    assert change.parts[0].name == "filling the tank"
    assert isinstance(profile.drive, Air)
    assert change.parts[0].seconds == pytest.approx(
        air.drop_hpa(profile.drive, 300) / 140 + 0.3 + 0.1
    )


def test_an_arm_swings_for_the_time_of_uniform_acceleration() -> None:
    """s = w t / 2 by hand, and the fastest arm from the work of its torque."""
    drive = named("throwing-arm").drive
    assert isinstance(drive, Arm)
    rate = 400 * math.pi / 30
    assert arm.swing_s(drive, 400) == pytest.approx(2 * math.radians(220) / rate)
    fastest = arm.fastest_rpm(drive) * math.pi / 30
    assert 0.12 * fastest**2 / 2 == pytest.approx(60 * math.radians(220))
    change = change_s(
        named("throwing-arm"),
        Setting(drives=(300.0,), pan_deg=0, tilt_deg=10),
        Setting(drives=(400.0,), pan_deg=0, tilt_deg=10),
    )
    assert change == pytest.approx(max(2.8, 1.6 + arm.swing_s(drive, 400) + 0.4))


@pytest.mark.parametrize("stem", list(ALL))
def test_settings_at_the_edge_of_the_envelope_are_at_the_edge_of_a_drive(stem) -> None:
    """Brute force: inside the spin range every drive is in range; just outside, one is not."""
    drive = ALL[stem].drive
    ends = drive_range(drive)
    reach = speed_range(drive)
    for share in (0.1, 0.5, 0.9):
        speed = reach.least + share * (reach.most - reach.least)
        found = top_range(drive, speed)
        assert found is not None
        if found.most - found.least < 1:
            continue
        for spin, inside in (
            (found.least + 1, True), (found.most - 1, True), (0.0, True),
            (found.least - 5, False), (found.most + 5, False),
        ):  # fmt: skip
            throw = Throw(speed_mps=speed, elevation_deg=0, azimuth_deg=0, top_rpm=spin)
            setting = exact_setting(ALL[stem], throw)
            assert isinstance(setting, Setting)
            assert all(ends.holds(drive) for drive in setting.drives) is inside, (speed, spin)


def test_only_heads_that_roll_or_have_three_wheels_curve_the_ball() -> None:
    curving = {
        stem
        for stem, profile in ALL.items()
        if (found := across_range(profile.drive, 20)) is not None and found.most > 100
    }
    assert curving == {"turning-head", "three-wheels"}


def test_the_envelope_stays_inside_the_limits() -> None:
    for profile in ALL.values():
        for side in (False, True):
            allowed = profile.limits.side_rpm if side else profile.limits.spin_rpm
            for at in envelope(profile, side=side):
                assert profile.limits.speed_mps.holds(at.speed_mps)
                assert allowed.holds(at.spin_rpm.least)
                assert allowed.holds(at.spin_rpm.most)


@pytest.mark.parametrize(
    ("stem", "old", "new", "said"),
    [
        ("garage", "speed_mps = [8.0, 33.0]", "speed_mps = [8.0, 45.0]", "speed_mps promises"),
        ("garage", "side_rpm = [0.0, 0.0]", "side_rpm = [-500.0, 500.0]", "side_rpm promises"),
        ("air-barrel", "spin_rpm = [0.0, 0.0]", "spin_rpm = [0.0, 900.0]", "spin_rpm promises"),
        ("throwing-arm", "torque_nm = 60.0", "torque_nm = 20.0", "torque swings the arm"),
    ],
)
def test_a_limit_that_the_drive_cannot_keep_is_a_warning_at_its_place(stem, old, new, said) -> None:
    text = (PROFILES / f"{stem}.toml").read_text(encoding="utf-8")
    assert old in text
    reading = parse_profile(text.replace(old, new), "p.toml")
    assert reading.profile is not None
    found = [d for d in reading.diagnostics if said in d.message]
    assert len(found) == 1
    assert found[0].slug == "profile-contradiction"
    assert not found[0].is_error
    assert found[0].span is not None
