"""What parts must bear, against motion and currents worked out step by step."""

from __future__ import annotations

import math
from pathlib import Path

import msgspec
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from feedscript.building import series
from feedscript.building.build_file import Build, example_file, read_build
from feedscript.building.electrics import (
    battery_ah,
    brake,
    capacitor_f,
    motor_currents,
    ripple_a,
)
from feedscript.building.feed_path import finger_above_m, gate_to_wheels_m, rolling_mps2
from feedscript.building.grip import STIFFNESS_N_PER_M, grip_at, widest_gap_m
from feedscript.building.parts import Rating, rated
from feedscript.building.wheels import BALL_KG, WheelWork, wheel_work
from feedscript.diagnostics import Diagnostic
from feedscript.launcher.profile.drives import OneWheel, TwoWheels
from feedscript.launcher.profile.model import Profile
from feedscript.launcher.profile.read_profile import read_profile
from feedscript.shipped import shipped_profiles


def profile_named(name: str) -> Profile:
    profile = read_profile(shipped_profiles()[f"{name}.toml"]).profile
    assert profile is not None
    return profile


def example() -> Build:
    build = read_build(example_file()).value
    assert build is not None
    return build


BUILD, GARAGE = example(), profile_named("garage")
DRIVE = GARAGE.drive
assert isinstance(DRIVE, TwoWheels)
WORK = wheel_work(GARAGE, DRIVE, BUILD)


def test_a_wheel_loses_what_a_slipping_ball_gains() -> None:
    """Two wheels rub a ball, each with the same force, until it has its speed."""
    radius_m, inertia = 0.1, 0.6 * 0.8 * 0.1**2
    wheel_radps, ball_mps, force_n, step_s = WORK.ball_radps, 0.0, 150.0, 1e-6
    work_j = 0.0
    while ball_mps < 33.0:
        wheel_radps -= force_n * radius_m / inertia * step_s
        work_j += force_n * radius_m * wheel_radps * step_s
        ball_mps += 2 * force_n / BALL_KG * step_s
    assert WORK.drop_share == pytest.approx(1 - wheel_radps / WORK.ball_radps, rel=0.001)
    assert WORK.ball_j == pytest.approx(work_j, rel=0.001)


def test_a_run_up_takes_the_torque_that_it_is_said_to() -> None:
    """Turned by it against its friction a wheel is at its fastest when the profile says so."""
    radps, time_s, step_s = 0.0, 0.0, 1e-3
    while radps < 4200 * math.pi / 30:
        radps += (WORK.spin_up_nm - BUILD.friction_nm) / (0.6 * 0.8 * 0.01) * step_s
        time_s += step_s
    assert time_s == pytest.approx(4200 / 1100, abs=0.005)
    assert WORK.spin_up_s == pytest.approx(4200 / 1100)


def test_a_motor_at_full_duty_settles_where_the_build_file_says() -> None:
    motor = motor_currents(WORK, BUILD)
    assert motor is not None
    radps, step_s = 0.0, 1e-3
    for _ in range(200_000):
        current_a = (BUILD.supply_v - motor.nm_per_a * radps) / BUILD.motor_resistance_ohm
        radps += (motor.nm_per_a * current_a - BUILD.friction_nm) / WORK.inertia_kgm2 * step_s
    assert radps * 30 / math.pi == pytest.approx(BUILD.wheel_rpm_at_full_duty, rel=1e-6)


def test_whether_the_supply_is_enough_at_the_fastest() -> None:
    """Just enough in the example; not for a winding of a tenth of an ohm."""
    good, bad = BUILD, msgspec.structs.replace(BUILD, motor_resistance_ohm=0.1)
    for build, enough in ((good, True), (bad, False)):
        motor = motor_currents(WORK, build)
        assert motor is not None
        back_v = motor.nm_per_a * WORK.fastest_radps
        most_nm = motor.nm_per_a * (build.supply_v - back_v) / build.motor_resistance_ohm
        assert (most_nm >= WORK.spin_up_nm) is enough
        assert (motor.left_v >= 0) is enough


def ripple_of(capacitor: float, current_a: float, duty: float) -> tuple[float, float]:
    """Peak to peak volts, and the capacitor's r.m.s. amperes, over one period, sampled."""
    time = (np.arange(10_000) + 0.5) / 10_000
    into_a = current_a * duty - np.where(time < duty, current_a, 0.0)
    volts = np.cumsum(into_a) / capacitor / BUILD.pwm_hz / len(time)
    return float(np.ptp(volts)), float(np.sqrt(np.mean(into_a**2)))


def test_the_capacitor_holds_the_ripple_at_every_duty() -> None:
    least_f = capacitor_f(50.0, BUILD)
    duties = [ripple_of(least_f, 50.0, duty) for duty in np.linspace(0.02, 0.98, 49)]
    assert max(volts for volts, _ in duties) == pytest.approx(BUILD.ripple_v, rel=0.01)
    assert max(amperes for _, amperes in duties) == pytest.approx(ripple_a(50.0), rel=0.01)


def test_what_the_brake_takes_is_what_the_wheels_lose_beside_friction() -> None:
    slowed = brake(WORK, BUILD, 3300e-6)
    assert slowed is not None
    radps, taken_j, peak_w, step_s = WORK.fastest_radps, 0.0, 0.0, 1e-3
    while radps > 0:
        watts = 2 * WORK.spin_down_nm * radps
        taken_j, peak_w = taken_j + watts * step_s, max(peak_w, watts)
        radps -= (WORK.spin_down_nm + BUILD.friction_nm) / WORK.inertia_kgm2 * step_s
    assert slowed.peak_w == pytest.approx(peak_w)
    assert taken_j <= slowed.energy_j <= taken_j * 1.2
    assert BUILD.brake_v**2 / slowed.most_ohm == pytest.approx(peak_w)
    assert 3300e-6 * (slowed.alone_v**2 - 12.0**2) / 2 == pytest.approx(slowed.energy_j)


def test_a_battery_gives_what_an_hour_of_feeding_takes() -> None:
    """A ball every 1.8 s for an hour: friction, balls, windings and the rest, in joules."""
    motor = motor_currents(WORK, BUILD)
    assert motor is not None
    balls_j = 2 * WORK.ball_j * 3600 / 1.8
    friction_j = 2 * BUILD.friction_nm * WORK.ball_radps * 3600
    windings_j = 2 * BUILD.motor_resistance_ohm * motor.steady_a**2 * 3600
    hour_ah = (balls_j + friction_j + windings_j) / 12.0 / 3600 + 3.0
    assert battery_ah(WORK, motor, BUILD) == pytest.approx(hour_ah * 2.0 / 0.5)


def test_the_grip_of_a_gap() -> None:
    """Followed through the wheels in steps: pressed where the rims are nearer than it is wide."""
    assert isinstance(DRIVE, TwoWheels)
    grip = grip_at(0.045, DRIVE, WORK, 33.0)
    along = np.linspace(-0.1, 0.1, 200_001)
    apart = 0.045 + 2 * (0.1 - np.sqrt(0.1**2 - along**2))
    pressed = np.maximum(0.067 - apart, 0.0)
    where = pressed > 0
    way_m = float(np.ptp(along[where]))
    assert grip.contact_m == pytest.approx(way_m, rel=1e-3)
    assert grip.press_n == pytest.approx(80.07 / 0.0065 * 0.022, rel=1e-6)
    friction_work = 2 * STIFFNESS_N_PER_M * float(np.mean(pressed[where])) * way_m
    assert grip.needed_friction == pytest.approx(BALL_KG * 33.0**2 / 2 / friction_work, rel=0.02)


def test_how_long_the_wheels_touch_the_ball() -> None:
    """Pushed by a steady force from rest it has its speed at the end of the way, in steps."""
    assert isinstance(DRIVE, TwoWheels)
    grip = grip_at(0.045, DRIVE, WORK, 33.0)
    gone_m, speed_mps, time_s, step_s = 0.0, 0.0, 0.0, 1e-6
    while gone_m < grip.contact_m:
        speed_mps += 33.0**2 / (2 * grip.contact_m) * step_s
        gone_m += speed_mps * step_s
        time_s += step_s
    assert speed_mps == pytest.approx(33.0, rel=1e-3)
    assert grip.contact_s == pytest.approx(time_s, rel=1e-3)


def test_one_wheel_presses_the_ball_alone_against_its_pad() -> None:
    single = profile_named("single-wheel")
    drive = single.drive
    assert isinstance(drive, OneWheel)
    grip = grip_at(0.050, drive, wheel_work(single, drive, BUILD), 25.0)
    along = np.linspace(-0.15, 0.15, 300_001)
    radius_m = drive.wheel_diameter_m / 2
    apart = 0.050 + radius_m - np.sqrt(radius_m**2 - along**2)
    assert grip.contact_m == pytest.approx(float(np.ptp(along[apart < 0.067])), rel=1e-3)


def test_a_fuse_is_chosen_by_whichever_current_asks_for_more() -> None:
    """Twenty amperes for hours load a fuse of 25 A to four fifths."""
    motor = motor_currents(WORK, BUILD)
    assert motor is not None
    assert motor.fuse_a == motor.spin_up_a
    assert msgspec.structs.replace(motor, spin_up_a=5.0, steady_a=20.0).fuse_a == 25.0


@given(friction=st.floats(0.3, 1.5), speed_mps=st.floats(15.0, 40.0))
def test_the_widest_gap_just_grips(friction: float, speed_mps: float) -> None:
    assert isinstance(DRIVE, TwoWheels)
    gap_m = widest_gap_m(friction, DRIVE, WORK, speed_mps)
    if gap_m > 0.0201:
        assert grip_at(gap_m, DRIVE, WORK, speed_mps).needed_friction == pytest.approx(friction)
        assert grip_at(gap_m + 0.002, DRIVE, WORK, speed_mps).needed_friction > friction


def test_a_ball_rolls_down_the_chute_in_the_lead() -> None:
    """By energy: what it falls is its speed's and its turning's, whose shell has I = 0.55 m r²."""
    length_m = gate_to_wheels_m(GARAGE, BUILD)
    speed = math.sqrt(2 * 9.80665 * length_m * math.sin(math.radians(12.0)) / 1.55)
    assert 2 * length_m / speed == pytest.approx(GARAGE.feeder.gate_lead_s, rel=1e-4)
    assert rolling_mps2(12.0) == pytest.approx(speed**2 / 2 / length_m, rel=1e-4)


def test_a_finger_fits_between_two_balls_where_it_is_said_to() -> None:
    above_m, radius_m = finger_above_m(6.0), 0.0335
    left_edge = -radius_m + math.sqrt(radius_m**2 - above_m**2)
    assert -2 * left_edge == pytest.approx(0.006, abs=1e-6)


@given(st.floats(1e-6, 1e9))
def test_the_next_size_up(value: float) -> None:
    for sizes in (series.R10, series.E6):
        size = series.next_in_decades(value, sizes)
        assert size >= value * (1 - 1e-6)
        assert size <= value * 1.6


def test_copper_always_outlasts_its_fuse() -> None:
    """The more copper the more it bears, and less for each square millimetre."""
    areas, bears = zip(*series.WIRES_A, strict=True)
    assert list(areas) == sorted(areas)
    assert list(bears) == sorted(bears)
    by_area = [ampere / area for area, ampere in series.WIRES_A]
    assert by_area == sorted(by_area, reverse=True)
    for fuse_a in series.FUSES_A:
        wire = series.wire_for(fuse_a)
        assert wire is not None
        assert wire[1] >= fuse_a


def test_gauges_of_wire() -> None:
    """By the two that define them, 36 of 0.005 in and 0000 of 0.46 in, each step by the same ratio;
    and never thinner than what is asked."""
    ratio = (0.46 / 0.005) ** (1 / 39)
    for gauge in range(37):
        inches = 0.005 * ratio ** (36 - gauge)
        assert series.awg_mm2(gauge) == pytest.approx(math.pi / 4 * (25.4 * inches) ** 2)
    for area, _ in series.WIRES_A:
        found = series.awg_for(area)
        assert found is not None
        assert series.awg_mm2(found) >= area > series.awg_mm2(found + 2)


def test_how_far_hands_reach_is_the_standards() -> None:
    """Squares of ISO 13857:2019, Table 4; past 120 mm it has none."""
    assert [series.reach_mm(e) for e in (4, 5, 8, 10, 12, 20, 30, 40, 77, 120)] == [
        2, 5, 15, 25, 80, 120, 120, 200, 850, 850,
    ]  # fmt: skip
    assert series.reach_mm(121) is None


@pytest.mark.parametrize("name", ["garage", "turning-head", "three-wheels", "single-wheel"])
def test_every_shipped_launcher_with_wheels_is_rated(name: str) -> None:
    ratings = rated(profile_named(name), BUILD)
    assert not isinstance(ratings, Diagnostic)
    assert all(math.isfinite(row.figure) and row.figure >= 0 and row.source for row in ratings)
    assert {row.part for row in ratings} >= {
        "wheel", "gap", "motor", "driver", "motor's lead", "battery's lead", "contactor",
        "battery", "bulk capacitor", "brake resistor", "hopper", "chute", "guard",
    }  # fmt: skip


def cautions(**changed: float) -> dict[str, str]:
    ratings = rated(GARAGE, msgspec.structs.replace(BUILD, **changed))
    assert not isinstance(ratings, Diagnostic), ratings
    return {f"{row.part}: {row.what}": row.caution for row in ratings if row.caution}


@pytest.mark.parametrize(
    ("changed", "part", "words"),
    [
        ({"wheel_mass_kg": 0.3}, "wheel", "heavier wheel"),
        ({"felt_friction": 0.5}, "gap", "slips"),
        ({"motor_resistance_ohm": 0.12}, "motor", "lacks"),
        ({"motor_resistance_ohm": 0.3}, "motor's lead", "less than twice the fuse"),
        ({"wheel_mass_kg": 3.0}, "battery's lead", "more than 100 A"),
        ({"mesh_mm": 10.0}, "guard", "too near"),
        ({"tunnel_mm": 849.0}, "guard", "a hand gets to the wheels"),
    ],
)
def test_what_does_not_fit_is_said(changed: dict[str, float], part: str, words: str) -> None:
    found = cautions(**changed)
    assert any(row.startswith(part) and words in text for row, text in found.items()), found


def test_what_fits_is_not_cautioned() -> None:
    fits = cautions(felt_friction=1.5, tunnel_mm=850.0, wheel_mass_kg=0.8)
    fits = {row: text for row, text in fits.items() if row.startswith(("wheel", "motor", "guard"))}
    assert fits == {}


@pytest.mark.parametrize(
    "name", ["air-barrel", "timed-valve", "throwing-arm", "notched-spring", "unequal-wheels"]
)
def test_what_throws_otherwise_is_refused(name: str) -> None:
    found = rated(profile_named(name), BUILD)
    assert isinstance(found, Diagnostic)
    assert found.slug == "parts-unrated"


def test_a_motor_that_its_friction_stalls_is_refused() -> None:
    found = rated(GARAGE, msgspec.structs.replace(BUILD, friction_nm=5.0))
    assert isinstance(found, Diagnostic)
    assert "stalls" in found.message


@pytest.mark.parametrize(
    ("text", "message", "line"),
    [
        ("wheel_mas_kg = 1.0", "no key 'wheel_mas_kg'", 1),
        ("supply_v = 'much'", "supply_v is 'much'", 1),
        ("# mine\nsupply_v = 400.0", "supply_v is 400", 2),
        ("supply_v = nan", "supply_v is nan", 1),
        ("", "does not say supply_v", 1),
    ],
)
def test_a_wrong_build_file_says_where_and_why(
    text: str, message: str, line: int, tmp_path: Path
) -> None:
    file = tmp_path / "build.toml"
    file.write_text(text, encoding="utf-8")
    reading = read_build(file)
    assert reading.value is None
    (found,) = [one for one in reading.diagnostics if message in one.message]
    assert found.slug == "build-file"
    assert found.help
    assert found.span is not None
    assert found.span.line == line


@pytest.mark.parametrize("raw", [b"\xff\xfe", b"supply_v =", b"[" * 5000])
def test_a_file_that_is_none_is_told(raw: bytes, tmp_path: Path) -> None:
    file = tmp_path / "build.toml"
    file.write_bytes(raw)
    for path in (file, tmp_path, tmp_path / "missing.toml"):
        reading = read_build(path)
        assert reading.value is None
        assert reading.diagnostics


def test_work_is_the_same_for_each_of_more_wheels() -> None:
    """Three wheels share what two would: each gives the ball a third."""
    assert isinstance(DRIVE, TwoWheels)
    three = profile_named("three-wheels")
    work: WheelWork = wheel_work(three, three.drive, BUILD)  # type: ignore[arg-type]
    lost_nms = work.inertia_kgm2 * work.drop_share * work.ball_radps
    radius_m = three.drive.wheel_diameter_m / 2  # type: ignore[union-attr]
    assert 3 * lost_nms / radius_m == pytest.approx(BALL_KG * three.limits.speed_mps.most)


def test_a_rating_is_told_with_its_unit() -> None:
    ratings = rated(GARAGE, BUILD)
    assert not isinstance(ratings, Diagnostic)
    by_what = {row.what: row for row in ratings}
    fuse: Rating = next(row for row in ratings if row.part == "motor's lead")
    assert fuse.unit == "A"
    assert fuse.choose == "fuse of 30 A"
    assert by_what["inertia about its axle"].figure == pytest.approx(0.0048)
