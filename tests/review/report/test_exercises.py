"""A ball stands in the tables with the exercise that it was part of."""

from __future__ import annotations

import csv
import io
from itertools import pairwise

import pytest

from feedscript.court.lines import COURTS
from feedscript.journal.queries import balls_that_left, session_of
from feedscript.journal.store import Journal, open_journal
from feedscript.plan.model import (
    Collect,
    Exercise,
    Repeat,
    Result,
    ShowSpeed,
    Station,
    Step,
    Together,
)
from feedscript.plan.scene import Player
from feedscript.review.report.exercises import Exercises, exercises_of
from feedscript.review.report.export import balls_csv, review_json
from feedscript.review.report.html import report_html, review_of
from feedscript.review.report.lesson import Ball, Lesson, lesson_of_player, read_lesson
from feedscript.session.engine.engine import Engine
from feedscript.session.operator.phases import Act
from feedscript.session.state.event_log import write_event
from feedscript.session.state.events import ExerciseBegan, HowEnded
from tests.plan.small_plans import rest, send
from tests.session.coach import say, see_balls
from tests.session.rehearsing import lesson_plan, rehearse
from tests.session.state.generated_lessons import conduct
from tests.session.state.test_apply import begun


def exercise(title: str, *body: Step) -> Exercise:
    return Exercise(title=title, repeats=0, body=body, line=2)


def test_each_ball_has_the_exercise_that_the_plan_has_it_in() -> None:
    three = Repeat(times=3, body=(send(0, 4.0),), line=3)
    plan = lesson_plan(
        ShowSpeed(feed=0, line=1),
        send(0, 4.0),
        exercise("Depth, with Ben", three, rest(5.0), send(1, 4.0)),
        Collect(line=4),
        exercise("=Short", send(0, 4.0), send(0, 4.0)),
        send(1, 4.0),
        players=(Player(name="Ben"),),
    )
    conducted = rehearse(plan)
    lesson = read_lesson(conducted.journal)
    conducted.journal.close()
    titles = [ball.exercise for ball in lesson.balls]
    assert titles == ["", "", *["Depth, with Ben"] * 4, "=Short", "=Short", ""]
    rows = list(csv.DictReader(io.StringIO(balls_csv([lesson]))))
    assert [row["exercise"] for row in rows][5:] == ["Depth, with Ben", "'=Short", "'=Short", ""]


@pytest.mark.parametrize("steps", [[], ["x", 3, None], [{"step": "exercise"}], [{"body": [1]}]])
def test_a_plan_of_another_form_has_no_exercise_by_name(steps: list[object]) -> None:
    journal = open_journal(None)
    number = begun(journal)
    write_event(journal, number, 1e9, ExerciseBegan(exercise=1, place=2))
    head = session_of(journal, number)
    assert head is not None
    found = exercises_of(journal, head, steps)
    assert {one.title for one in found.on} <= {""}
    assert not found.of_ball


def titles(found: Exercises, *balls: tuple[str, int]) -> list[str]:
    for feed_id, (lane, number) in enumerate(balls):
        found.ball(feed_id, lane, number)
    found.jump()
    return [found.of_ball[feed_id] for feed_id in range(len(balls))]


def test_a_ball_is_of_the_exercise_that_is_on_at_its_place() -> None:
    found = Exercises()
    found.begins(1.0, "Depth", 2)
    found.ends(9.0, HowEnded.PLAYED, 8)
    found.begins(9.0, "Short", 9)
    balls = (("", at) for at in (1, 2, 7, 8, 9))
    assert titles(found, *balls) == ["", "Depth", "Depth", "", "Short"]
    assert [one.how for one in found.on] == [HowEnded.PLAYED, None]


def test_where_the_lesson_goes_back_what_was_sent_stays_and_what_comes_is_of_what_is_on() -> None:
    found = Exercises()
    found.begins(1.0, "Depth", 2)
    found.ends(9.0, HowEnded.PLAYED, 8)
    found.begins(9.0, "Short", 9)
    assert titles(found, ("", 9)) == ["Short"]
    found.ends(11.0, HowEnded.EARLY, None)
    found.begins(11.0, "Depth", 2)  # again the series of a ball of it
    found.ball(1, "", 9)
    found.jump()
    assert found.of_ball == {0: "Short", 1: "Depth"}


def test_stations_belong_to_the_exercise_that_is_left_at_their_fork() -> None:
    found = Exercises()
    found.begins(1.0, "Depth", 2)
    found.ends(9.0, HowEnded.SKIPPED, 4)
    balls = (("3/north", 0), ("4/north", 6), ("5/north", 0))
    assert titles(found, *balls) == ["Depth", "Depth", ""]


def station(name: str, launcher: int, feed: int) -> Station:
    body = (Repeat(times=3, body=(send(feed, 4.0),), line=5),)
    return Station(name=name, launcher=launcher, players=(), body=body, line=4)


#: Each exercise has feeds of its own, and nothing else sends a ball.
EACH_ITS_OWN = lesson_plan(
    ShowSpeed(feed=0, line=1),
    ShowSpeed(feed=2, line=1),
    Exercise(title="A", repeats=1, body=(Repeat(times=3, body=(send(0, 4.0),), line=3),), line=2),
    rest(3.0),
    Exercise(
        title="B",
        repeats=1,
        body=(
            Together(stations=(station("west", 0, 1), station("east", 1, 2)), for_s=16.0, line=4),
        ),
        line=4,
    ),
    Collect(line=6),
    Exercise(title="C", repeats=1, body=(send(3, 4.0), rest(2.0), send(3, 4.0)), line=7),
    launchers=2,
)
OWNERS = "ABBC"
#: Lessons in which each way of ending came up; in those of 86 and 166 the plan is gone back in.
SEEDS = (23, 86, 166)


def test_whatever_is_pressed_and_whenever_the_host_dies_a_ball_stands_with_its_exercise() -> None:
    fates: set[HowEnded | None] = set()
    places: list[str] = []

    def ended(journal: Journal) -> None:
        lesson = read_lesson(journal)
        feeds = {row.feed_id: row.feed_index for row in balls_that_left(journal, lesson.number)}
        played = [ball for ball in lesson.balls if not ball.shown]
        assert [b.exercise for b in played] == [OWNERS[feeds[b.number]] for b in played]
        places.extend(ball.station for ball in played)
        for one, following in pairwise(lesson.exercises):
            assert one.ended_utc_s is None or one.ended_utc_s <= following.begun_utc_s
        fates.update(one.how for one in lesson.exercises)

    for seed in SEEDS:
        conduct(seed, plan=EACH_ITS_OWN, ended=ended)
    assert len(fates) >= 3
    assert {"", "west", "east"} <= set(places)


def test_the_report_says_how_each_exercise_ended() -> None:
    async def coach(engine: Engine) -> None:
        await see_balls(engine, 3)
        await say(engine, Act.SKIP_EXERCISE)

    two = (exercise("Depth <1>", *(send(0, 4.0),) * 4), exercise("Short", send(1, 4.0)))
    conducted = rehearse(lesson_plan(ShowSpeed(feed=0, line=1), *two), coach)
    lesson = read_lesson(conducted.journal)
    conducted.journal.close()
    assert [(one.title, one.how) for one in lesson.exercises] == [
        ("Depth <1>", HowEnded.SKIPPED),
        ("Short", HowEnded.PLAYED),
    ]
    review = review_of(lesson, (), sheet=False)
    page = report_html(review)
    assert "Depth &lt;1&gt;" in page
    assert page.index("skipped") < page.index("played")
    told = [(one["title"], one["how"]) for one in review_json(review)["exercises"]]
    assert told == [("Depth <1>", "skipped"), ("Short", "played")]


def test_an_exercise_named_after_somebody_else_is_not_on_a_sheet() -> None:
    ball = Ball(1, "deep", "Ash", 1.0, Result.IN, kind="deep", exercise="Birch's corner")
    lesson = Lesson(
        1, "T", "", False, 0.0, None, None, None, COURTS["singles"], (ball,), 0, 0
    )  # fmt: skip
    (alone,) = lesson_of_player(lesson, "Ash", ["Ash", "Birch"]).balls
    assert alone.exercise == "another player's corner"
