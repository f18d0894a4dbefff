"""The records of balls found, and the table that tuning reads."""

from __future__ import annotations

import math
from pathlib import Path

import msgspec
import numpy as np
import pytest

from feedscript.cli.after.watch_balls import Balls
from feedscript.launcher.tuning.landings_file import parse_landings
from feedscript.watch.asked import AskedBall, AskedLesson
from feedscript.watch.fit.measured import Measured, NotSeen, Value, Why
from feedscript.watch.found import Found, Landed, Missed, as_json, ball_of, landings_csv
from tests.watch.lesson_filmed import planned
from tests.watch.test_asked import CAMERA, CLOCK

SPREAD = ((0.0025, 0.0), (0.0, 0.01))


def measured(number: int, landing_m: tuple[float, float]) -> Measured:
    value = Value(1.0, 0.1)
    return Measured(
        number=number,
        landing_m=landing_m,
        covariance_m2=SPREAD,
        left_s=Value(3.0, 0.01),
        bounce_s=Value(4.25, 0.01),
        flight_s=Value(1.25, 0.004),
        speed_mps=Value(22.0, 0.3),
        elevation_deg=value,
        azimuth_deg=value,
        top_rpm=value,
        side_rpm=value,
        seen=40,
        shown=44,
        scatter_px=0.3,
        unknowns=np.zeros(16),
    )


@pytest.fixture(scope="module")
def lesson() -> AskedLesson:
    """Two balls of a launcher that is turned 30 degrees to the right."""
    plan, profile = planned()
    placed = msgspec.structs.replace(plan.launchers[0], mouth_m=(1.0, -12.0, 1.0), heading_deg=30.0)
    plan = msgspec.structs.replace(plan, launchers=(placed,))
    balls = tuple(AskedBall(number=number, left_utc_s=0.0, feed=plan.feeds[0]) for number in (4, 9))
    return AskedLesson(number=2, plan=plan, profiles=(profile,), balls=balls)


@pytest.fixture
def found(lesson: AskedLesson) -> Found:
    turn = math.radians(30)
    ahead = (1.0 + 20 * math.sin(turn), -12.0 + 20 * math.cos(turn))  # and half a metre right
    place = (ahead[0] + 0.5 * math.cos(turn), ahead[1] - 0.5 * math.sin(turn))
    balls = (
        ball_of(lesson.balls[0].feed, measured(4, place)),
        ball_of(lesson.balls[1].feed, NotSeen(number=9, why=Why.NOTHING_SEEN)),
    )
    return Found(lesson=2, launchers=("garage",), camera=CAMERA, clock=CLOCK, balls=balls)


def test_the_region_is_the_ellipse_of_the_covariance(found: Found) -> None:
    (one,) = found.landed
    assert one.region_m == pytest.approx((0.1 * math.sqrt(5.991), 0.05 * math.sqrt(5.991)))
    assert abs(one.region_turn_deg) == pytest.approx(90)


def test_the_file_holds_all_of_it_and_is_read_back(found: Found) -> None:
    again = msgspec.json.decode(as_json(found), type=Found)
    assert again == found
    assert [type(one) for one in again.balls] == [Landed, Missed]


def test_a_ball_that_somebody_said_no_to_goes_no_further_and_stays_in_the_file(
    found: Found, lesson: AskedLesson
) -> None:
    refused = found.with_said({4: "no", 9: "yes"})
    assert refused.landed == ()
    assert "along_m" in (rows := landings_csv(refused, lesson, 1).splitlines())[1]
    assert len(rows) == 2  # no ball
    again = msgspec.json.decode(as_json(refused), type=Found)
    assert [getattr(one, "said", None) for one in again.balls] == ["no", None]
    assert refused.with_said({4: "yes"}).landed[0].landing_m == found.landed[0].landing_m


def test_the_table_is_what_tuning_reads_from_below_the_mouth(
    found: Found, lesson: AskedLesson
) -> None:
    profile, feed = lesson.profiles[0], lesson.balls[0].feed
    text = landings_csv(found, lesson, 1)
    reading = parse_landings(text, "table", profile)
    assert reading.shots is not None, reading.diagnostics
    (setting,), (seen,) = reading.shots.settings, reading.shots.seen
    assert seen == pytest.approx([20.0, 0.5, 22.0, 1.25], abs=1e-3)
    turn = np.array([[0.5, math.cos(math.radians(30))], [math.cos(math.radians(30)), -0.5]])
    assert reading.shots.own is not None
    assert reading.shots.own[0] == pytest.approx(turn @ np.array(SPREAD) @ turn, abs=2e-5)
    assert setting.drives == pytest.approx(feed.setting.drives, rel=1e-4)
    assert setting.tilt_deg == pytest.approx(feed.setting.tilt_deg, abs=0.01)


def test_of_two_launchers_each_has_its_own_table_and_every_ball_says_whose_it_is(
    found: Found, lesson: AskedLesson, tmp_path: Path
) -> None:
    first, second = lesson.balls
    theirs = msgspec.structs.replace(second.feed, launcher=1)
    plan = msgspec.structs.replace(lesson.plan, launchers=2 * lesson.plan.launchers)
    both = AskedLesson(
        number=2,
        plan=plan,
        profiles=2 * lesson.profiles,
        balls=(first, msgspec.structs.replace(second, feed=theirs)),
    )
    balls = (found.balls[0], ball_of(theirs, measured(9, (1.0, 9.0))))
    found = msgspec.structs.replace(found, launchers=("garage", "attic"), balls=balls)
    of = Balls(found, both, ())
    (one, one_text), (two, two_text) = of.files(tmp_path / "landings.csv")
    assert (one.name, two.name) == ("landings-1.csv", "landings-2.csv")
    for text, name in ((one_text, "launcher 1 of 2"), (two_text, "launcher 2 of 2")):
        assert name in text.decode()
        shots = parse_landings(text.decode(), "table", lesson.profiles[0]).shots
        assert shots is not None
        assert len(shots.seen) == 1
    assert [row.split()[-1] for row in of.words.splitlines()[-2:]] == ["garage", "attic"]
    told = msgspec.json.decode(as_json(found))
    assert [told["launchers"][each["launcher"] - 1] for each in told["balls"]] == [
        "garage",
        "attic",
    ]
