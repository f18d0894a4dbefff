"""A setting in the device's own numbers: scales, tables, the ball instead of the drives."""

from __future__ import annotations

import pytest
from feedscript_drivers.mapped.description.keys import Mapping, Quantity
from feedscript_drivers.mapped.numbers import OutOfRangeError, numbers_of, value_of

from feedscript.launcher.kinematics import throw_of
from feedscript.launcher.setting import Setting
from tests.drivers.mapped.test_frames import PROFILE, mapping_of

LEVELS = "steps-only"
TURN_TABLE = (
    "[quantities.drive_1]\nleast = 0\nmost = 4200\nbytes = 2",
    "[quantities.drive_1]\nleast = 0\nmost = 4200\nbytes = 2\n"
    'table = [[100, 900.0], [300, 1300.0]]\ntable_is = "line"',
)


def told(mapping: Mapping, *drives: float, pan_deg: float = 0.0, tilt_deg: float = 5.0):
    setting = Setting(drives=drives, pan_deg=pan_deg, tilt_deg=tilt_deg)
    return numbers_of(mapping, setting, PROFILE)


def test_a_level_is_told_for_the_ball_that_it_gives() -> None:
    """1,800 and 1,600 rpm: 58.97 km/h and no level; 1,900 and 1,700: level 4, a spin of 334 rpm."""
    numbers = told(mapping_of(LEVELS), 1900.0, 1700.0, pan_deg=-3.0)
    assert numbers == {"speed_kmh": 4, "top_rpm": 4, "pan_deg": -3, "tilt_deg": 5}
    ball = throw_of(PROFILE, Setting(drives=(1900.0, 1700.0), pan_deg=0.0, tilt_deg=5.0))
    assert ball.speed_mps * 3.6 == pytest.approx(62.43, abs=0.01)


@pytest.mark.parametrize(
    ("drives", "tilt_deg", "what"),
    [
        ((1800.0, 1600.0), 5.0, "speed"),
        ((1950.0, 1650.0), 5.0, "spin"),
        ((1900.0, 1700.0), 5.4, "tilt"),
        ((900.0, 900.0), 5.0, "speed"),
    ],
)
def test_between_the_steps_nothing_is_told(drives, tilt_deg: float, what: str) -> None:
    with pytest.raises(OutOfRangeError, match=f"{what}.*scatter allows"):
        told(mapping_of(LEVELS), *drives, tilt_deg=tilt_deg)


def test_a_step_as_wide_as_the_scatter_is_told() -> None:
    """0.8 % of the speed: 7 rpm of 1,000 are 0.7 %, 9 rpm are not."""
    tens = mapping_of("asked-only")
    assert told(tens, 1004.0, 1004.0)["drive_1"] == 100
    coarse = mapping_of("asked-only", ("scale = 0.1 ", "scale = 0.05 "), ("0.1\n", "0.05\n"))
    assert told(coarse, 1007.0, 1007.0)["drive_1"] == 50
    with pytest.raises(OutOfRangeError, match="speed"):
        told(coarse, 1009.0, 1009.0)


def test_a_measured_line_is_followed_between_its_points_and_no_further() -> None:
    mapping = mapping_of("byte-frames", TURN_TABLE)
    assert told(mapping, 1000.0, 1000.0)["drive_1"] == 150
    with pytest.raises(OutOfRangeError, match="outside what was measured"):
        told(mapping, 1400.0, 1400.0)


def test_a_falling_table_is_read_back_as_it_was_written() -> None:
    falling = Quantity(table=((9.0, 100.0), (5.0, 200.0)), table_is="line", least=0, most=9)
    assert value_of(falling, 7.0) == 150.0


def test_a_spin_that_the_device_is_not_told_is_refused() -> None:
    no_spin = (
        "[quantities.top_rpm]\ntable = [[1, -668], [2, -334], [3, 0], [4, 334], [5, 668]]\n"
        "least = 1\nmost = 5\nbytes = 1\n",
        "",
    )
    mapping = mapping_of(LEVELS, no_spin, ("53 {speed_kmh} {top_rpm}", "53 {speed_kmh}"))
    assert told(mapping, 1800.0, 1800.0)["speed_kmh"] == 4
    with pytest.raises(OutOfRangeError, match="told no spin"):
        told(mapping, 1900.0, 1700.0)


def test_a_part_that_the_device_has_not_is_refused() -> None:
    fixed = (
        ("[quantities.pan_deg]\nleast = -22\nmost = 22\nbytes = 1\n", ""),
        ("41 {pan_deg} {tilt_deg}", "41 {tilt_deg}"),
    )
    mapping = mapping_of(LEVELS, *fixed)
    assert "pan_deg" not in told(mapping, 1800.0, 1800.0)
    with pytest.raises(OutOfRangeError, match="no such part"):
        told(mapping, 1800.0, 1800.0, pan_deg=1.0)
