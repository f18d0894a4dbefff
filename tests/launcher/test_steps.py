"""Launchers in steps: which balls there are, and that nothing between them is ever set."""

from __future__ import annotations

from itertools import product
from pathlib import Path

import msgspec
import pytest
from hypothesis import given
from hypothesis import strategies as st

from feedscript.check.check_program import Options, check_program
from feedscript.launcher.kinematics import drive_names, setting_for, throw_of
from feedscript.launcher.setting import Setting
from feedscript.launcher.steps import off_steps, step_ball, step_balls
from feedscript.launcher.throw import Throw
from feedscript.memo import Memo
from feedscript.safety.analysis.plan_facts import PlanFacts
from feedscript.safety.rules import past_drive
from feedscript.session.operator.jog import Wish, setting_of
from tests.launcher.examples import PROFILES, profile_at

FIVE = profile_at(PROFILES / "five-steps.toml")
SPRING = profile_at(PROFILES / "notched-spring.toml")
TURNING = profile_at(PROFILES / "turning-head.toml")
#: A head that rolls and three wheels, in steps too.
ROLLING = msgspec.structs.replace(
    TURNING, drive=msgspec.structs.replace(TURNING.drive, steps=(1000.0, 1800.0, 2600.0))
)
_THREE = profile_at(PROFILES / "three-wheels.toml")
THREE = msgspec.structs.replace(
    _THREE, drive=msgspec.structs.replace(_THREE.drive, steps=(2000.0, 3000.0, 4500.0))
)
STEPPED = {"five": FIVE, "spring": SPRING, "rolling": ROLLING, "three": THREE}


@pytest.mark.parametrize("name", STEPPED)
@given(st.data())
def test_every_ball_of_the_steps_is_found_again_and_set_on_them(name, data) -> None:
    profile = STEPPED[name]
    drives = data.draw(
        st.tuples(*[st.sampled_from(profile.drive.steps)] * len(drive_names(profile.drive)))
    )
    roll = data.draw(st.sampled_from([0.0, 30.0])) if name == "rolling" else 0.0
    setting = Setting(drives=drives, pan_deg=2.0, tilt_deg=12.0, roll_deg=roll)
    ball = step_ball(profile, throw_of(profile, setting))
    assert ball is not None
    again = setting_for(profile, ball)
    assert isinstance(again, Setting)
    assert off_steps(profile.drive, again.drives) is None
    back, meant = throw_of(profile, again), throw_of(profile, setting)
    assert back.speed_mps == pytest.approx(meant.speed_mps, abs=1e-6)
    assert back.top_rpm == pytest.approx(meant.top_rpm, abs=2)  # the grid of the roll
    assert back.side_rpm == pytest.approx(meant.side_rpm, abs=2)


def test_the_steps_give_as_many_balls_as_their_wheels_can_be_set() -> None:
    level = Throw(speed_mps=20, elevation_deg=0, azimuth_deg=0)
    assert len(step_balls(FIVE, level)) == 5**2
    assert len(step_balls(SPRING, level)) == 4
    assert len(step_balls(THREE, level)) == 3**3
    flat = {round(ball.speed_mps, 2) for ball in step_balls(FIVE, level) if not ball.top_rpm}
    assert flat == {round(0.92 * 3.141592653589793 * 0.2 * n / 60, 2) for n in FIVE.drive.steps}


@given(st.floats(12, 30), st.floats(-1500, 2500))
def test_a_ball_is_taken_for_a_steps_only_if_it_is_near(speed, top) -> None:
    throw = Throw(speed_mps=speed, elevation_deg=5, azimuth_deg=0, top_rpm=top)
    ball = step_ball(FIVE, throw)
    near = [
        (upper, lower)
        for upper, lower in product(FIVE.drive.steps, repeat=2)
        if (one := throw_of(FIVE, Setting(drives=(upper, lower), pan_deg=0, tilt_deg=5)))
        and abs(one.speed_mps - speed) <= 0.02 * speed
        and abs(one.top_rpm - top) <= 100
    ]
    assert (ball is not None) is bool(near)


def verdict(profile: str, feed: str):
    text = f"""feedscript 1
court {{ surface hard }}
balls {{ load 20 }}
launcher {{ profile "{profile}.toml"  stands 1 m behind centre mark }}
group {{ 1 player  level club  receiver 1 m behind baseline, on centre line }}
feed ball {{ land 3 m inside baseline, on centre line  {feed} }}
lesson {{ show speed of ball  repeat 4 {{ send ball after 6 s }} }}
"""
    return check_program(Path("steps.feed"), Options(), text=text)


def test_a_speed_near_a_step_is_thrown_with_the_steps_own() -> None:
    found = verdict("five-steps", "speed 75.5 km/h")
    assert found.ok, found.diagnostics
    (feed,) = found.plan.feeds
    assert feed.setting.drives == (2200.0, 2200.0)
    assert feed.speed_mps * 3.6 == pytest.approx(76.30, abs=0.01)
    assert feed.landing_m == pytest.approx((0.0, 8.885), abs=0.01)


def test_a_valve_opens_for_whole_milliseconds() -> None:
    """79 km/h are 88.94 ms by the table's line from 80 ms to 105, so the ball of 89 is thrown."""
    found = verdict("timed-valve", "speed 79 km/h")
    assert found.ok, found.diagnostics
    (feed,) = found.plan.feeds
    assert feed.setting.drives == (89.0,)
    assert feed.speed_mps == pytest.approx(20.8 + 9 * 3.2 / 25, abs=1e-6)
    assert feed.landing_m == pytest.approx((0.0, 8.885), abs=0.01)


@pytest.mark.parametrize(
    ("profile", "feed", "said", "mend"),
    [
        ("five-steps", "speed 70 km/h", "59.0, 76.3, 93.6 and 111.0 km/h", "speed 76.3 km/h"),
        ("notched-spring", "speed 68 km/h", "58.4, 74.6 and 90.9 km/h", "speed 74.6 km/h"),
        ("timed-valve", "speed 120 km/h", "107.6 and 107.9 km/h", "speed 107.9 km/h"),
        ("five-steps", "apex 2.3 m", "1.49, 1.88 and 2.69 m", "apex 2.69 m"),
        ("five-steps", "flight 1.7 s", "1.33", "flight 1.33 s"),
        (
            "five-steps",
            "contact 1.9 m high, 3 m behind bounce",
            "0.62, 0.86 and 1.24 m",
            "contact 1.24 m` high",
        ),
    ],
)
def test_what_lies_between_is_refused_with_what_there_is(profile, feed, said, mend) -> None:
    found = verdict(profile, feed)
    (refused,) = [one for one in found.diagnostics if one.is_error]
    assert refused.slug == "between-steps"
    assert said in refused.message
    assert mend in refused.help
    if "contact" not in feed:
        assert verdict(profile, refused.help.split("`")[1]).ok


def test_a_spin_that_no_steps_give_is_refused_with_the_nearest_ball() -> None:
    found = verdict("five-steps", "speed 76 km/h  spin top 1200 rpm")
    (refused,) = [one for one in found.diagnostics if one.is_error]
    assert refused.slug == "between-steps"
    assert "835, 1669" in refused.message
    ball = refused.help.split("`")[1]
    assert not [one for one in verdict("five-steps", ball).diagnostics if one.slug == refused.slug]


def test_a_plan_that_sets_a_drive_between_its_steps_is_refused() -> None:
    """The plan of a launcher without steps, held against one that has them."""
    free = msgspec.structs.replace(FIVE, drive=msgspec.structs.replace(FIVE.drive, steps=()))
    plan = verdict("five-steps", "speed 76 km/h").plan
    assert plan is not None
    (feed,) = plan.feeds
    setting = msgspec.structs.replace(feed.setting, drives=(2250.0, 2250.0))
    moved = msgspec.structs.replace(plan, feeds=(msgspec.structs.replace(feed, setting=setting),))
    for profile, margin in ((free, 950.0), (FIVE, -50.0)):
        found = past_drive.RULE.find(PlanFacts(moved, (profile,), Memo()))
        assert found.worst is not None
        assert found.worst.margin == margin


def test_by_hand_nothing_between_two_steps_is_set() -> None:
    between = Setting(drives=(2200.0, 2300.0), pan_deg=0.0, tilt_deg=5.0)
    assert not isinstance(setting_of(FIVE, Wish(20.0, raw=between)), Setting)
    assert not isinstance(setting_of(FIVE, Wish(20.0)), Setting)
    near = setting_of(FIVE, Wish(21.0))
    assert isinstance(near, Setting)
    assert near.drives == (2200.0, 2200.0)
