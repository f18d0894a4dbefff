"""A ball stands in the tables with the exercise that it was part of."""

from __future__ import annotations

import csv
import io

import pytest

from feedscript.court.lines import COURTS
from feedscript.plan.model import Collect, Exercise, Repeat, Result, ShowSpeed, Step
from feedscript.plan.scene import Player
from feedscript.review.report.exercises import begun, exercises_of
from feedscript.review.report.export import balls_csv
from feedscript.review.report.lesson import Ball, Lesson, lesson_of_player, read_lesson
from tests.plan.small_plans import rest, send
from tests.session.rehearsing import lesson_plan, rehearse


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
def test_a_plan_of_another_form_has_no_exercise(steps: list[object]) -> None:
    assert begun(exercises_of(steps), [(1.0, "Depth")]).of(2.0, 0) == ""


def test_an_exercise_named_after_somebody_else_is_not_on_a_sheet() -> None:
    ball = Ball(1, "deep", "Ash", 1.0, Result.IN, kind="deep", exercise="Birch's corner")
    lesson = Lesson(
        1, "T", "", False, 0.0, None, None, None, COURTS["singles"], (ball,), 0, 0
    )  # fmt: skip
    (alone,) = lesson_of_player(lesson, "Ash", ["Ash", "Birch"]).balls
    assert alone.exercise == "another player's corner"
