"""What players aim at stands in the tables, and how often they hit it in the record.

The range is the score interval of E. B. Wilson, "Probable inference, the law of succession, and
statistical inference", J. Amer. Statist. Assoc. 22 (1927), 209-212, worked out here from its
defining equation: the ends are the shares p with (made/n - p)^2 = z^2 p (1 - p) / n.
"""

from __future__ import annotations

import csv
import io
import json

import msgspec
import numpy as np
import pytest

from feedscript.plan.model import Exercise, Result, ShowSpeed, Target
from feedscript.plan.scene import Player
from feedscript.review.record.figures import counted, record_of
from feedscript.review.record.forms import in_words, record_csv, record_json
from feedscript.review.record.history import History
from feedscript.review.record.page import record_html
from feedscript.review.report.exercises import targets_of
from feedscript.review.report.export import balls_csv, lessons_json
from feedscript.review.report.lesson import Ball, in_series, lesson_of_player, read_lesson
from tests.plan.small_plans import send
from tests.session.rehearsing import lesson_plan, rehearse

CROSS = Target(name="deep cross, Ben's", outlines_m=(((0.0, -9.0), (4.0, -11.0)),))
Z = 1.959963984540054  # the normal distribution's 97.5 % point


def exercise(title: str, target: Target | None = None) -> Exercise:
    body = (send(0, 4.0), send(0, 4.0))
    return Exercise(title=title, repeats=0, body=body, line=2, target=target)


def test_each_ball_has_the_target_of_its_exercise() -> None:
    plan = lesson_plan(
        ShowSpeed(feed=0, line=1),
        exercise("Depth", CROSS),
        exercise("Rally"),
        players=(Player(name="Ash"), Player(name="Ben")),
    )
    conducted = rehearse(plan)
    lesson = read_lesson(conducted.journal)
    conducted.journal.close()
    name = "deep cross, Ben's"
    assert [ball.target for ball in lesson.balls] == ["", name, name, "", ""]
    rows = list(csv.DictReader(io.StringIO(balls_csv([lesson]))))
    assert [(row["exercise"], row["target"]) for row in rows][1::2] == [
        ("Depth", name),
        ("Rally", ""),
    ]
    (whole,) = lessons_json([lesson])
    assert [ball["target"] for ball in whole["every_ball"]][1::2] == [name, None]
    player = next(ball.player for ball in lesson.played)
    if player is not None:
        alone = lesson_of_player(lesson, player, ["Ash", "Ben"])
        assert "Ben" not in json.dumps([ball.target for ball in alone.balls]) or player == "Ben"


@pytest.mark.parametrize("steps", [[], ["x", None], [{"target": 3}], [{"target": {"name": ""}}]])
def test_a_plan_of_another_form_has_no_targets(steps: list[object]) -> None:
    assert targets_of(steps) == {}


def balls(kind: str, target: str, results: str, at: float) -> list[Ball]:
    """t: target, i: in, n: net, -: nobody recorded it."""
    became = {"t": Result.TARGET, "i": Result.IN, "n": Result.NET, "-": None}
    return [
        Ball(number=n, feed=kind, kind=kind, player="Ash", left_utc_s=at + 4 * n,
             result=became[result], target=target)
        for n, result in enumerate(results, 1)
    ]  # fmt: skip


def wilson(made: int, of: int) -> list[float]:
    """The two roots in p of (made/of - p)^2 = z^2 p (1 - p) / of, by numpy."""
    share = made / of
    return sorted(np.roots([1 + Z**2 / of, -2 * share - Z**2 / of, share**2]).real)


def test_hits_are_counted_by_kind_of_ball_where_there_was_a_target() -> None:
    played = in_series([*balls("deep", "cross", "tint-t", 0.0), *balls("deep", "", "iii", 500.0)])
    found = counted(played)
    assert (found.in_target.made, found.in_target.recorded) == (3, 5)
    assert (found.share.made, found.share.recorded) == (7, 8)  # in the target is in court too
    assert found.in_target.interval == pytest.approx(wilson(3, 5), abs=1e-9)
    assert found.longest is not None
    assert found.longest.balls == 3  # a hit goes on with a row of balls in court
    assert counted(balls("deep", "", "ii", 0.0)).in_target.interval is None


def lesson_with(played: list[Ball]):
    conducted = rehearse(lesson_plan(ShowSpeed(feed=0, line=1), send(0, 4.0)))
    lesson = read_lesson(conducted.journal)
    conducted.journal.close()
    return msgspec.structs.replace(lesson, balls=in_series(played))


def test_every_form_of_the_record_says_it() -> None:
    played = [*balls("deep", "cross", "ttin", 0.0), *balls("lob", "", "in", 900.0)]
    record = record_of(History(player="Ash", lessons=(lesson_with(played),)))
    whole, deep, lob = in_words(record)[:3]
    assert "in the target 2 of 4, 50 %" in whole
    assert "in the target 2 of 4, 50 %" in deep
    assert "in the target" not in lob
    plain = record_json(record)["kinds"]["deep"]["in_target"]
    assert (plain["count"], plain["of"], plain["interval"]) == (
        2,
        4,
        pytest.approx(wilson(2, 4), abs=1e-9),
    )
    rows = list(csv.DictReader(io.StringIO(record_csv(record))))
    assert [(row["in_target"], row["with_a_target"]) for row in rows] == [("2", "4"), ("0", "0")]
    assert "<th" in record_html(record)
    assert "In target" in record_html(record)
