"""The planner's time between two settings is enough for the stand-in's moving parts.

Two accounts of the same hardware: ``change_time`` adds up worst cases for the checker, the
stand-in moves wheels and axes for the rehearsal. Had the planner the shorter time, rehearsed balls
would leave at wheel speeds that nobody certified.
"""

from __future__ import annotations

import msgspec
import pytest
from feedscript_drivers.wire.wire_launcher import setting_fields
from feedscript_simulator.plant import Plant, rates_of
from hypothesis import given
from hypothesis import strategies as st

from feedscript.launcher.change import change_time
from feedscript.launcher.kinematics import drive_names, drive_range
from feedscript.launcher.profile.drives import TwoWheels
from feedscript.launcher.profile.model import Profile
from feedscript.launcher.setting import Setting
from tests.launcher.examples import profile_at, shipped_profiles

ALL = {path.stem: profile_at(path) for path in shipped_profiles()}
_LONG_AGO_MS = -1e7


@st.composite
def settings_of(draw, profile: Profile) -> Setting:
    ends, limits = drive_range(profile.drive), profile.limits
    roll = profile.drive.roll_deg if isinstance(profile.drive, TwoWheels) else None
    return Setting(
        drives=tuple(
            float(draw(st.integers(int(ends.least) + 1, int(ends.most))))
            for _ in drive_names(profile.drive)
        ),
        pan_deg=round(draw(st.floats(limits.azimuth_deg.least, limits.azimuth_deg.most)), 2),
        tilt_deg=round(draw(st.floats(limits.elevation_deg.least, limits.elevation_deg.most)), 2),
        roll_deg=round(draw(st.floats(roll.least, roll.most)), 2) if roll else 0.0,
    )


def moved_s(profile: Profile, before: Setting, after: Setting) -> float:
    """How long the stand-in's parts take after a ball at ``before`` to be at ``after``."""
    plant = Plant(rates_of(profile), settled=1.0)
    plant.aim(setting_fields(before), _LONG_AGO_MS)
    plant.ball_passed(0.0)
    plant.aim(setting_fields(after), 0.0)
    return max(0.0, plant.ready_ms()) / 1000


@pytest.mark.parametrize("stem", list(ALL))
@given(st.data())
def test_the_planner_never_asks_for_more_than_the_parts_can_do(stem, data) -> None:
    profile = ALL[stem]
    before = data.draw(settings_of(profile))
    after = data.draw(settings_of(profile))
    tail_s = profile.feeder.settle_s + profile.feeder.gate_lead_s
    planned = max(part.seconds for part in change_time(profile, before, after).parts[:-2]) - tail_s
    assert moved_s(profile, before, after) <= planned + 0.002


@pytest.mark.parametrize("stem", list(ALL))
@given(st.data())
def test_nor_from_rest_wherever_the_head_was_turned_to(stem, data) -> None:
    profile = ALL[stem]
    stands = data.draw(settings_of(profile))
    stopped = msgspec.structs.replace(stands, drives=tuple(0.0 for _ in stands.drives))
    after = data.draw(settings_of(profile))
    tail_s = profile.feeder.settle_s + profile.feeder.gate_lead_s
    planned = max(part.seconds for part in change_time(profile, None, after).parts[:-2]) - tail_s
    assert moved_s(profile, stopped, after) <= planned + 0.002


def test_and_it_does_not_ask_for_much_less_either() -> None:
    """Speeding up, the two agree to what a wheel may be off its speed and still count as there."""
    profile = ALL["garage"]
    before = Setting(drives=(1500.0, 1500.0), pan_deg=0.0, tilt_deg=5.0)
    after = Setting(drives=(2600.0, 1500.0), pan_deg=0.0, tilt_deg=5.0)
    assert moved_s(profile, before, after) == pytest.approx(1100 / 1100 + 0.6, abs=0.01)


def test_an_axis_that_gains_its_rate_slowly_takes_as_long_on_the_stand_in() -> None:
    """40 degrees at 24 a second, 20 a second gained each second: 1.2 s to gain and as long to lose,
    14.4 degrees each, and 11.2 between: 2.867 s, by hand. The planner says the same."""
    profile = ALL["stepping-head"]
    before = Setting(drives=(1500.0, 1500.0), pan_deg=-20.0, tilt_deg=5.0)
    after = Setting(drives=(1500.0, 1500.0), pan_deg=20.0, tilt_deg=5.0)
    assert moved_s(profile, before, after) == pytest.approx(2.867, abs=0.001)
    (panning,) = [p for p in change_time(profile, before, after).parts if p.name == "panning"]
    tail_s = profile.feeder.settle_s + profile.feeder.gate_lead_s
    assert panning.seconds == pytest.approx(2.867 + tail_s, abs=0.001)
