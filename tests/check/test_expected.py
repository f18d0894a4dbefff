"""Expectations of every ball within the stated scatter, held against balls flown by SciPy."""

from __future__ import annotations

import math
import re
from pathlib import Path

import numpy as np
import pytest

from feedscript.check.check_program import Verdict, check_program
from feedscript.check.scattered import Scattered
from feedscript.court.lines import COURTS
from feedscript.flight.bounce import SURFACES
from feedscript.plan.aiming.flying import conditions_for
from feedscript.plan.expect.outcome import ExpectationStanding
from tests.safety.flown_by_scipy import Ways, ways

PROGRAM = """feedscript 1
court {{ surface hard  {court} }}
balls {{ type 2  load 60 }}
launcher {{ profile "{profile}"  stands 1 m behind centre mark }}
group {{ 2 players  level club  receiver 1 m behind baseline, on centre line  {group} }}
feed deep {{ {feed} }}
feed other {{ land 4 m inside baseline, on centre line  speed 70 km/h }}
lesson {{ show speed of deep  repeat 5 {{ send deep after 6 s }} }}
{more}
expect {{ {expect} }}
"""
FEED = "land 3 m inside baseline, on centre line  speed 80 km/h  spin top 900 rpm"
HIGH = "land 4 m inside baseline, on centre line  apex 4 m"
FLAT = "land 2 m inside baseline, 1 m inside ad sideline  speed 100 km/h"
BALLS = 2000


def judged(
    expect: str,
    feed: str = FEED,
    *,
    court: str = "",
    group: str = "",
    more: str = "",
    profile: str = "garage.toml",
) -> Verdict:
    text = PROGRAM.format(
        expect=expect, feed=feed, court=court, group=group, more=more, profile=profile
    )
    verdict = check_program(Path("expected.feed"), text=text)
    assert verdict.ok, [one.message for one in verdict.diagnostics if one.is_error]
    return verdict


def standing(expect: str, *changes: str, **others: str) -> ExpectationStanding:
    (met,) = judged(expect, *changes, **others).met
    return met.outcome.standing


def flown(verdict: Verdict, feed: int = 0) -> Ways:
    plan = verdict.plan
    assert plan is not None
    one, profile = plan.feeds[feed], verdict.profiles[0]
    conditions = conditions_for(plan.court, plan.balls, profile)
    random = np.random.default_rng(11)
    mouth = plan.launchers[one.launcher].mouth_m
    return ways(one, mouth, profile, conditions, SURFACES["hard"], BALLS, random)


def crossing(balls: Ways, y_m: float) -> np.ndarray:
    """x and height of every ball as it first crosses this line of the court; NaN: it does not."""
    path = balls.place_m
    past = (path[:, :-1, 1] < y_m) & (path[:, 1:, 1] >= y_m)
    moment, rows = np.argmax(past, axis=1), np.arange(len(path))
    before, after = path[rows, moment], path[rows, moment + 1]
    share = (y_m - before[:, 1]) / (after[:, 1] - before[:, 1])
    met = before + share[:, None] * (after - before)
    return np.where(past.any(axis=1)[:, None], met, np.nan)[:, [0, 2]]


#: One ball in so many may lie past one end of three deviations, and as many past the other.
ALLOWED = 2.0 * BALLS * math.erfc(3 / math.sqrt(2)) / 2 + 4.0 * math.sqrt(BALLS * 0.00135)
SCENES = [
    {"feed": FEED},
    {"feed": HIGH},
    {"feed": FLAT},
    {"feed": FEED, "court": "wind head 2 m/s, ad 2 m/s"},
    {"feed": FEED, "court": "wind tail 2 m/s, deuce 2 m/s"},
    {"feed": f"{FEED.replace('top 900', 'back 600')}", "profile": "three-wheels.toml"},
]


@pytest.mark.parametrize("scene", SCENES, ids=str)
def test_no_more_balls_fly_lower_or_arrive_elsewhere_than_the_scatter_allows(scene: dict) -> None:
    verdict = judged("balls = 6", **scene)
    assert verdict.facts is not None
    scattered = Scattered(verdict.facts)
    balls = flown(verdict)
    net = COURTS["singles"].net
    at_net = crossing(balls, 0.0)
    room = at_net[:, 1] - balls.radius_m - net.heights_m(at_net[:, 0])
    assert np.sum(~(room >= scattered.net_room_m(0))) <= ALLOWED
    # And it is not told lower than balls come: one of these is near it.
    assert room.min() < scattered.net_room_m(0) + 0.35 * (np.median(room) - scattered.net_room_m(0))
    low, high = scattered.heights_m(0)
    (receiver,) = {feed.receiver_m for feed in verdict.plan.feeds}
    height = crossing(balls, receiver[1])[:, 1]
    if math.isnan(low):
        assert np.isnan(height).any()
    else:
        assert np.sum(~((height >= low) & (height <= high))) <= ALLOWED


def test_the_aimed_ball_alone_is_judged_only_where_the_program_says_so() -> None:
    (met,) = judged("deep clears net by 0 m").met
    lowest = float(re.findall(r"([\d.]+) m over", met.outcome.figure)[0])
    (met,) = judged("deep clears net by 0 m as aimed").met
    aimed = float(re.findall(r"([\d.]+) m over", met.outcome.figure)[0])
    assert aimed - lowest > 0.05
    between = f"{(lowest + aimed) / 2:.3f} m"
    assert standing(f"deep clears net by {between}") is ExpectationStanding.FAILS
    assert standing(f"deep clears net by {between} as aimed") is ExpectationStanding.PASSES
    assert standing(f"every feed clears net by {lowest - 0.01:.3f} m") is ExpectationStanding.PASSES


def test_heights_are_of_every_ball_too() -> None:
    (met,) = judged("deep arrives between 0 m and 9 m").met
    low, high = map(float, re.findall(r"([\d.]+) to ([\d.]+) m high", met.outcome.figure)[0])
    assert high - low > 0.05
    (met,) = judged("deep arrives between 0 m and 9 m as aimed").met
    aimed = float(re.findall(r"([\d.]+) m high", met.outcome.figure)[0])
    assert low < aimed < high
    narrow = f"{low + 0.02:.3f} m and {aimed + 0.01:.3f} m"
    assert standing(f"deep arrives between {narrow}") is ExpectationStanding.FAILS
    assert standing(f"deep arrives between {narrow} as aimed") is ExpectationStanding.PASSES
    wide = f"{low - 0.01:.3f} m and {high + 0.01:.3f} m"
    assert standing(f"deep arrives between {wide}") is ExpectationStanding.PASSES


def test_a_wider_scatter_that_is_asked_for_counts() -> None:
    (met,) = judged("deep clears net by 0 m").met
    lowest = float(re.findall(r"([\d.]+) m over", met.outcome.figure)[0])
    just = f"deep clears net by {lowest - 0.02:.3f} m"
    assert standing(just) is ExpectationStanding.PASSES
    assert standing(just, more="require scatter 5") is ExpectationStanding.FAILS
    area = "deep bounces inside backcourt"
    short = "land 4.4 m inside baseline, on centre line  speed 80 km/h  spin top 900 rpm"
    assert standing(area, short) is ExpectationStanding.PASSES
    assert standing(area, short, more="require scatter 5") is ExpectationStanding.FAILS


@pytest.mark.parametrize(
    "expect",
    [
        "other clears net by 0.1 m",
        "other clears net by 0.1 m as aimed",
        "other arrives between 0.1 m and 2 m",
        "other bounces inside singles court",
        "never more than 3 of other in a row",
        "95 % of other within 1 m",
    ],
)
def test_what_is_never_sent_is_not_tested(expect: str) -> None:
    verdict = judged(expect)
    assert [one.outcome.standing for one in verdict.met] == [ExpectationStanding.UNTESTED]
    assert not verdict.as_expected
    (told,) = (one for one in verdict.diagnostics if one.slug == "unmet-expectation")
    assert "never sent" in told.message


SIDED = "land 3 m inside baseline, 1.5 m inside backhand sideline  speed 80 km/h  spin top 900 rpm"


def test_a_left_handers_mirror_image_is_judged_as_well() -> None:
    """The side wind carries one of the two further than the other."""
    lesson = {"group": "left-handed 1", "court": "wind ad 3 m/s"}
    assert standing("deep bounces inside ad half", SIDED, **lesson) is ExpectationStanding.PASSES
    both = judged("deep clears net by 0.1 m", SIDED, **lesson)
    assert both.plan is not None
    rooms = [feed.net_clearance_m for feed in both.plan.feeds if feed.wish != "other"]
    assert len(rooms) == 2
    (met,) = judged(f"deep clears net by {max(rooms):.6f} m as aimed", SIDED, **lesson).met
    assert met.outcome.standing is ExpectationStanding.FAILS
    assert f"{min(rooms):.2f} m over" in met.outcome.figure


def test_check_leaves_to_draws_only_what_needs_them() -> None:
    expect = (
        "balls = 6  95 % of deep within 1 m  every player gets 1 balls  "
        "no player waits longer than 1 h"
    )
    standings = [one.outcome.standing for one in judged(expect).met]
    assert standings == [
        ExpectationStanding.PASSES,
        ExpectationStanding.INCONCLUSIVE,
        ExpectationStanding.INCONCLUSIVE,
        ExpectationStanding.PASSES,
    ]
