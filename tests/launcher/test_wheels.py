"""Two and three wheels: worked figures from rigid-body rolling, and there-and-back properties."""

from __future__ import annotations

import math

import msgspec
import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from feedscript.check.check_program import check_program
from feedscript.diagnostics import Diagnostic
from feedscript.launcher.kinematics import CANNOT_THROW, exact_setting, setting_for, throw_of
from feedscript.launcher.profile.drives import Range, ThreeWheels, TwoWheels
from feedscript.launcher.profile.model import Profile
from feedscript.launcher.setting import Setting
from feedscript.launcher.throw import Throw
from feedscript.launcher.wheels import ball_from, surface_mps, wheels_for
from tests.launcher.examples import garage

MEASURED = garage().drive.response  # type: ignore[union-attr]
PLAIN = TwoWheels(
    wheel_diameter_m=0.2, gap_m=0.065, slip=1.0, squeeze=1.0, wheel_rpm=Range(0, 9000),
    roll_deg=Range(-90, 90), roll_rate_dps=60, response=MEASURED,
)  # fmt: skip
THREE = ThreeWheels(
    wheel_diameter_m=0.15, gap_m=0.056, slip=0.9, squeeze=1.1, wheel_rpm=Range(0, 9000),
    first_wheel_deg=20.0, response=MEASURED,
)  # fmt: skip


def with_drive(drive) -> Profile:
    return msgspec.structs.replace(garage(), drive=drive)


def test_worked_example_of_two_wheels_without_slip() -> None:
    """Rigid rolling by hand: 0.2 m wheels at 2400 and 1600 rpm, lever 0.0325 m.

    Rims 25.1327 and 16.7552 m/s; ball 20.9440 m/s with 1230.77 rpm of topspin.
    """
    assert surface_mps(0.2, 2400) == pytest.approx(25.1327, abs=1e-4)
    assert surface_mps(0.2, 1600) == pytest.approx(16.7552, abs=1e-4)
    speed, top, across = ball_from(PLAIN, (2400, 1600), 0.0)
    assert speed == pytest.approx(20.9440, abs=1e-4)
    assert top == pytest.approx(1230.77, abs=0.01)
    assert across == pytest.approx(0.0, abs=1e-9)


def test_a_faster_top_wheel_gives_topspin_and_equal_wheels_none() -> None:
    assert ball_from(PLAIN, (2100, 1900), 0.0)[1] > 0
    assert ball_from(PLAIN, (1900, 2100), 0.0)[1] < 0
    assert ball_from(PLAIN, (2000, 2000), 0.0)[1] == pytest.approx(0.0, abs=1e-9)


def test_rolling_the_head_clockwise_turns_topspin_into_a_curve_to_the_left() -> None:
    """The top wheel goes to the right; the faster right wheel makes the ball curve away from it.

    Direction by the rigid-body rule omega x r: the right side moving forward is a spin about the
    vertical upwards, and the side force along omega x v then points to -x.
    """
    speed, top, across = ball_from(PLAIN, (2400, 1600), 90.0)
    assert speed == pytest.approx(20.9440, abs=1e-4)
    assert top == pytest.approx(0.0, abs=1e-6)
    assert across == pytest.approx(-1230.77, abs=0.01)


@pytest.mark.parametrize("turn_deg", [-70.0, 15.0, 40.0])
def test_tilting_the_head_turns_the_spin_axis_and_keeps_speed_and_size(turn_deg) -> None:
    speed, top, across = ball_from(PLAIN, (2400, 1600), turn_deg)
    assert speed == pytest.approx(20.9440, abs=1e-4)
    assert math.hypot(top, across) == pytest.approx(1230.77, abs=0.01)
    assert math.degrees(math.atan2(-across, top)) == pytest.approx(turn_deg)


@given(
    st.sampled_from([PLAIN, THREE]),
    st.floats(5, 40),
    st.floats(-3000, 3000),
    st.floats(-3000, 3000),
)
def test_wheels_move_with_the_balls_surface(drive, speed, top, across) -> None:
    """Against plain vectors: at each contact, v + omega x r along the throw equals the rim.

    x right, y along the throw, z up; top spin is about -x, a spin across about -z.
    """
    roll = 0.0
    rims = [
        drive.slip * surface_mps(drive.wheel_diameter_m, rpm)
        for rpm in wheels_for(drive, speed, top, across if drive is THREE else 0.0, roll)
    ]
    omega = np.array([-top, 0.0, -across if drive is THREE else 0.0]) * 2 * math.pi / 60
    first = drive.first_wheel_deg if drive is THREE else 0.0
    step = 120.0 if drive is THREE else 180.0
    for k, rim in enumerate(rims):
        angle = math.radians(first + k * step)
        lever = drive.squeeze * drive.gap_m / 2
        arm = lever * np.array([math.sin(angle), 0.0, math.cos(angle)])
        assert rim == pytest.approx(speed + np.cross(omega, arm)[1], abs=1e-9)


spins = st.floats(-3000, 3000)
throws = st.builds(
    Throw,
    speed_mps=st.floats(5, 45),
    elevation_deg=st.floats(-10, 70),
    azimuth_deg=st.floats(-60, 60),
    top_rpm=spins,
    side_rpm=spins,
)


def same(one: Throw, other: Throw) -> None:
    for name in ("speed_mps", "elevation_deg", "azimuth_deg"):
        assert getattr(one, name) == pytest.approx(getattr(other, name), abs=1e-8)
    for name in ("top_rpm", "side_rpm"):
        assert getattr(one, name) == pytest.approx(getattr(other, name), abs=1e-5)


@given(st.sampled_from([PLAIN, THREE]), throws, st.floats(-40, 40), st.floats(-5, 5))
def test_a_throw_comes_back_from_its_setting(drive, throw, facing_deg, offset_deg) -> None:
    profile = with_drive(drive)
    calibration = msgspec.structs.replace(
        profile.calibration, elevation_offset_deg=offset_deg, azimuth_offset_deg=-offset_deg
    )
    profile = msgspec.structs.replace(profile, calibration=calibration)
    setting = exact_setting(profile, throw, facing_deg)
    assert isinstance(setting, Setting)
    same(throw_of(profile, setting, facing_deg), throw)


@given(throws, st.floats(-40, 40))
def test_the_grid_of_the_wire_moves_a_throw_by_less_than_it_scatters(throw, facing_deg) -> None:
    profile = with_drive(PLAIN)
    setting = setting_for(profile, throw, facing_deg)
    assert isinstance(setting, Setting)
    back = throw_of(profile, setting, facing_deg)
    assert back.speed_mps == pytest.approx(throw.speed_mps, abs=0.0053)  # half an rpm of a rim
    assert back.elevation_deg == pytest.approx(throw.elevation_deg, abs=0.0051)
    assert back.azimuth_deg == pytest.approx(throw.azimuth_deg, abs=0.0051)
    assert back.top_rpm == pytest.approx(throw.top_rpm, abs=3)


@given(throws)
def test_a_head_that_does_not_roll_refuses_a_curve(throw) -> None:
    assume(abs(throw.side_rpm) > 1)
    refused = setting_for(garage(), throw)
    assert isinstance(refused, Diagnostic)
    assert refused.slug == "cannot-throw"


def test_the_garage_launcher_makes_topspin_and_slice() -> None:
    for top in (-1500.0, 0.0, 1800.0):
        throw = Throw(speed_mps=20, elevation_deg=8, azimuth_deg=3, top_rpm=top)
        setting = setting_for(garage(), throw)
        assert isinstance(setting, Setting)
        assert setting.roll_deg == 0.0
        assert all(garage().drive.wheel_rpm.holds(rpm) for rpm in setting.drives)  # type: ignore[union-attr]


def test_the_page_of_a_spin_that_cannot_be_given(tmp_path) -> None:
    program = tmp_path / "x.feed"
    for text, wanted in ((CANNOT_THROW.wrong, ["cannot-throw"]), (CANNOT_THROW.corrected, [])):
        program.write_text(text, encoding="utf-8")
        assert [d.slug for d in check_program(program).diagnostics if d.is_error] == wanted
