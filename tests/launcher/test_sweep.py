"""A launcher that swings by itself: its aim is a band, and all of the band is what counts."""

from __future__ import annotations

import math
from pathlib import Path

import msgspec
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from feedscript.check.check_program import Verdict, check_program
from feedscript.flight.bounce import SURFACES
from feedscript.launcher.change import change_time
from feedscript.launcher.kinematics import setting_for
from feedscript.launcher.profile.model import Range, Sweep
from feedscript.launcher.profile.read_profile import parse_profile
from feedscript.launcher.setting import Setting
from feedscript.launcher.sweep import APART_DEG, directions_deg, unsure_deg
from feedscript.launcher.throw import Throw
from feedscript.plan.aiming.flying import conditions_for
from feedscript.session.rehearsal.rehearse import rehearse
from tests.launcher.examples import PROFILES, garage, profile_at
from tests.safety.flown_by_scipy import ways

SWINGING = profile_at(PROFILES / "swinging-head.toml")
FEED = "sweep 4 m inside baseline  speed 72 km/h"


def verdict(feed: str = FEED, more: str = "", profile: str = "swinging-head") -> Verdict:
    text = f"""feedscript 1
court {{ surface hard }}
balls {{ load 40 }}
launcher {{ profile "{profile}.toml"  stands 1 m behind centre mark }}
group {{ 1 player  level club  receiver 1 m behind baseline, on centre line }}
{more}
feed fan {{ {feed} }}
lesson {{ show speed of fan  repeat 12 {{ send fan after 5 s }} }}
"""
    return check_program(Path("fan.feed"), text=text)


def slugs(found: Verdict) -> set[str]:
    return {one.slug for one in found.diagnostics if one.is_error}


@given(st.floats(-60, 60), st.floats(0, 60))
def test_directions_stand_for_the_whole_band(least: float, width: float) -> None:
    """From end to end, none further from the next than is made up for by the scatter."""
    band = Range(least, min(least + width, 60.0))
    profile = msgspec.structs.replace(SWINGING, sweep=Sweep(band_deg=band, period_s=5.0))
    ahead, *_ = directions = directions_deg(profile)
    laid = sorted(directions)
    assert ahead == band.nearest(0.0)
    assert laid[0] == pytest.approx(band.least)
    assert laid[-1] == pytest.approx(band.most)
    gaps = np.diff(laid)
    assert (gaps <= APART_DEG + 1e-9).all()
    assert (gaps / 2 <= 2 * unsure_deg(profile) + 1e-9).all()
    assert directions_deg(garage()) == (0.0,)


@given(st.floats(-9, 9))
def test_nothing_is_asked_of_a_direction_in_the_band(turn_deg: float) -> None:
    throw = Throw(speed_mps=20, elevation_deg=8, azimuth_deg=3.0 + turn_deg)
    setting = setting_for(SWINGING, throw, 3.0)
    assert isinstance(setting, Setting)
    assert setting.pan_deg == 0


def test_the_swing_is_never_waited_for() -> None:
    setting = Setting(drives=(2000.0, 2000.0), pan_deg=0, tilt_deg=5)
    assert "panning" not in [one.name for one in change_time(SWINGING, setting, setting).parts]
    assert "panning" in [one.name for one in change_time(garage(), setting, setting).parts]


def test_one_place_is_refused_with_the_sweep_that_goes_there() -> None:
    found = verdict("land 4 m inside baseline, on centre line  speed 72 km/h")
    (refused,) = [one for one in found.diagnostics if one.is_error]
    assert refused.slug == "no-single-place"
    assert "9 degrees left to 9 degrees right" in refused.message
    mend = refused.help.split("`")[1]
    assert verdict(f"{mend}  speed 72 km/h").ok


def test_a_sweep_is_refused_where_nothing_swings() -> None:
    found = verdict(profile="garage")
    (refused,) = [one for one in found.diagnostics if one.is_error]
    assert refused.slug == "no-sweep"
    mend = refused.help.split("`")[1]
    assert verdict(f"{mend}  speed 72 km/h", profile="garage").ok


@pytest.mark.parametrize(
    ("feed", "slug"),
    [
        ("sweep 4 m inside baseline, on centre line  speed 72 km/h", "only-depth"),
        ("sweep at 0 m, 8 m  speed 72 km/h", "only-depth"),
        ("sweep 1 m inside ad sideline  speed 72 km/h", "only-depth"),
        (f"{FEED}  land 4 m inside baseline, on centre line", "two-wishes"),
        (f"{FEED}  within 1 m", "idle-fact"),
        (f"{FEED}  vary speed 3 km/h", "idle-fact"),
    ],
)
def test_a_sweep_says_a_depth_and_nothing_of_one_place(feed: str, slug: str) -> None:
    assert slugs(verdict(feed)) == {slug}


def thrown(found: Verdict, turn_deg: float, balls: int, seed: int) -> np.ndarray:
    """Where balls first come down that leave so far from where the launcher faces, flown by SciPy
    with the launcher's scatter: (balls, 2)."""
    assert found.plan is not None
    feed = msgspec.structs.replace(found.plan.feeds[0], azimuth_deg=turn_deg)
    conditions = conditions_for(found.plan.court, found.plan.balls, SWINGING)
    random, mouth_m = np.random.default_rng(seed), found.plan.launchers[0].mouth_m
    flown = ways(feed, mouth_m, SWINGING, conditions, SURFACES["hard"], balls, random)
    first = np.argmax(flown.place_m[:, :, 2] <= flown.radius_m + 1e-6, axis=1)
    return flown.place_m[np.arange(balls), first, :2]


@settings(max_examples=6)
@given(st.floats(-9, 9), st.integers(0, 2**31))
def test_nobody_may_stand_where_a_ball_may_come_whichever_way_it_points(
    turn_deg: float, seed: int
) -> None:
    """A place of a hand's breadth, on the ground under a ball that SciPy flew from somewhere in the
    band: a keep-out there is refused."""
    x_m, y_m = thrown(verdict(), turn_deg, 1, seed)[0]
    corner = (
        f"at {x_m - 0.05:.2f} m, {y_m - 0.05:.2f} m and at {x_m + 0.05:.2f} m, {y_m + 0.05:.2f} m"
    )
    assert "into-keep-out" in slugs(verdict(more=f'keep out "someone" {{ between {corner} }}'))


def test_beside_the_band_one_may_stand() -> None:
    """4 degrees further: 1.4 m at 20 m."""
    x_m, y_m = thrown(verdict(), 13.0, 1, 1)[0]
    corner = f"at {x_m:.2f} m, {y_m - 0.5:.2f} m and at {x_m + 1:.2f} m, {y_m + 0.5:.2f} m"
    assert verdict(more=f'keep out "someone" {{ between {corner} }}').ok


def test_with_the_swing_taken_out_of_the_plan_that_place_would_pass() -> None:
    """What the directions are for: straight ahead alone, a keep-out to the side is passed."""
    x_m, y_m = thrown(verdict(), 8.0, 1, 3)[0]
    corner = f"at {x_m - 0.1:.2f} m, {y_m - 0.1:.2f} m and at {x_m + 0.1:.2f} m, {y_m + 0.1:.2f} m"
    bench = f'keep out "someone" {{ between {corner} }}'
    assert not verdict(more=bench).ok
    ahead = "land 4 m inside baseline, on centre line  speed 72 km/h"
    assert verdict(ahead, bench, profile="garage").ok


def test_every_drawn_ball_comes_down_in_the_scatter_of_some_direction() -> None:
    """2,000 balls of SciPy from all over the band, each within 4.5 deviations of a direction's."""
    found = verdict()
    assert found.plan is not None
    turns = np.random.default_rng(5).uniform(-9, 9, 40)
    balls = np.concatenate([thrown(found, turn, 50, seed) for seed, turn in enumerate(turns)])
    out = np.full(len(balls), np.inf)
    for feed in found.plan.feeds:
        angle = math.radians(feed.scatter.turn_deg)
        dx, dy = (balls - np.array(feed.landing_m)).T
        along = dx * math.cos(angle) + dy * math.sin(angle)
        across = -dx * math.sin(angle) + dy * math.cos(angle)
        far = np.hypot(along / feed.scatter.major_m, across / feed.scatter.minor_m)
        out = np.minimum(out, far)
    assert out.max() < 4.5  # beyond: one ball in 25,000, by the Rayleigh distribution


def test_the_stand_in_swings_and_every_ball_comes_down_in_the_band() -> None:
    found = verdict()
    assert found.plan is not None
    run = rehearse(found.plan, found.profiles, "fan.feed", seed=4)
    assert run.ending.finished
    mouth = np.array(found.plan.launchers[0].mouth_m[:2])
    turns = []
    for ball in run.balls:
        assert ball.landing_m is not None
        x_m, y_m = np.array(ball.landing_m) - mouth
        turns.append(math.degrees(math.atan2(x_m, y_m)))
    assert len(turns) == 13
    assert max(np.abs(turns)) < 9 + 5 * SWINGING.dispersion.azimuth_deg
    assert max(turns) - min(turns) > 9  # over much of the band, not always the same way


def test_a_profile_that_promises_to_point_and_swings_is_warned_about() -> None:
    text = (PROFILES / "swinging-head.toml").read_text(encoding="utf-8")
    assert not parse_profile(text, "p.toml").diagnostics
    told = text.replace("azimuth_deg = [0.0, 0.0]", "azimuth_deg = [-5.0, 5.0]")
    (warned,) = parse_profile(told, "p.toml").diagnostics
    assert warned.slug == "profile-contradiction"
    assert "[0.0, 0.0]" in warned.help
    half = text.replace("period_s = 6.0", "")
    assert [one.slug for one in parse_profile(half, "p.toml").diagnostics] == [
        "profile-missing-key"
    ]
