"""Manual control: what a line means, and that no limit gives way to it."""

from __future__ import annotations

import subprocess
import sys
import time

import pytest
from hypothesis import given
from hypothesis import strategies as st

from feedscript.diagnostics import Diagnostic
from feedscript.launcher.profile.read_profile import read_profile
from feedscript.launcher.setting import Setting
from feedscript.session.operator.jog import JogAct, Wish, first_wish, read_line, setting_of
from feedscript.shipped import shipped_folder

PROFILE = read_profile(shipped_folder() / "launchers" / "garage.toml").profile
assert PROFILE is not None
FIRST = first_wish(PROFILE)


def test_words_become_a_wish() -> None:
    wish = FIRST
    for line in ("speed 72 km/h", "spin back 400 rpm", "pan -3 deg", "TILT  9 deg"):
        step = read_line(line, wish)
        assert isinstance(step, Wish)
        wish = step
    assert wish == Wish(pytest.approx(20.0), -400.0, 0.0, -3.0, 9.0)
    assert isinstance(setting_of(PROFILE, wish), Setting)
    assert read_line("go on", wish) is JogAct.GO_ON


@pytest.mark.parametrize(
    "line", ["speed 200 km/h", "spin top 9000 rpm", "pan 80 deg", "tilt 70 deg", "speed 1 m/s"]
)
def test_what_lies_outside_a_limit_is_refused(line: str) -> None:
    wish = read_line(line, FIRST)
    assert isinstance(wish, Wish)
    refused = setting_of(PROFILE, wish)
    assert isinstance(refused, Diagnostic)
    assert refused.slug == "jog-line"
    assert refused.help


def test_a_speed_past_its_limits_is_told_as_it_is_typed_and_the_ends_offered_hold() -> None:
    wish = read_line("speed 200 km/h", FIRST)
    assert isinstance(wish, Wish)
    refused = setting_of(PROFILE, wish)
    assert isinstance(refused, Diagnostic)
    assert refused.message == "speed 200 km/h is outside this launcher's limits"
    least, most = refused.help.removesuffix(" km/h").split(" to ")
    for end in (least, most):
        typed = read_line(f"speed {end} km/h", FIRST)
        assert isinstance(typed, Wish)
        within = setting_of(PROFILE, typed)
        assert not isinstance(within, Diagnostic) or not str(within.message).startswith("speed")


def test_a_comma_in_a_number_is_told_with_what_to_write() -> None:
    refused = read_line("speed 70,5 km/h", FIRST)
    assert isinstance(refused, Diagnostic)
    assert refused.message == "'70,5 km/h' has a comma; write `70.5 km/h` if a point is meant"


def test_a_raw_setting_goes_as_it_stands_until_something_else_is_wished() -> None:
    step = read_line("set 1500 1700 tilt 8.25 pan -3", FIRST)
    assert isinstance(step, Wish)
    assert setting_of(PROFILE, step) == Setting(
        drives=(1500.0, 1700.0), pan_deg=-3.0, tilt_deg=8.25, roll_deg=0.0
    )
    other = read_line("speed 72 km/h", step)
    assert isinstance(other, Wish)
    assert other.raw is None


@pytest.mark.parametrize(
    "line",
    [
        "set 1500",
        "set 1500 1500 1500",
        "set 9000 9000 tilt 5",
        "set 100 100 tilt 5",
        "set 4200 1000 tilt 5",
        "set 4200 4200 tilt 5",
        "set 1500 1500 tilt 80",
        "set 1500 1500 tilt 5 pan 60",
        "set 1500 1500 tilt 5 roll 20",
    ],
)
def test_a_raw_setting_past_a_limit_is_refused(line: str) -> None:
    wish = read_line(line, FIRST)
    assert isinstance(wish, Wish)
    assert isinstance(setting_of(PROFILE, wish), Diagnostic)


@pytest.mark.parametrize("line", ["set fast", "set 1500 nan", "set 1500 1500 tilt", "set inf 1"])
def test_a_raw_setting_without_numbers_is_refused(line: str) -> None:
    assert isinstance(read_line(line, FIRST), Diagnostic)


@given(st.text(max_size=40))
def test_any_line_is_a_wish_a_deed_or_a_diagnostic(line: str) -> None:
    assert isinstance(read_line(line, FIRST), Wish | JogAct | Diagnostic)


def test_stop_is_never_kept_back_by_a_wish_that_is_refused() -> None:
    """The command itself, against the stand-in: an impossible wish stands, and stop still goes."""
    process = subprocess.Popen(
        [sys.executable, "-m", "feedscript.cli", "jog", "--on", "sim:"],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        stderr=subprocess.DEVNULL,
        text=True,
    )
    assert process.stdin is not None
    assert process.stdout is not None
    process.stdin.write("arm\n")
    process.stdin.flush()
    for line in process.stdout:
        if "armed (person)" in line:
            break
    process.stdin.write("speed 200 km/h\nstop\n")
    process.stdin.flush()
    time.sleep(0.8)
    rest, _ = process.communicate("quit\n", timeout=10)
    assert "safe (drives-off)" in rest
    assert process.returncode == 0
