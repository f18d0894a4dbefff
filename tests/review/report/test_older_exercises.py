"""Lessons from before exercises were written down: a stored journal, as the feedscript of that time
wrote it, of a lesson with a series and an exercise begun again, and a jump out of stations.

Each of its exercises has feeds of its own, so the feed of a ball says in which it was.
"""

from __future__ import annotations

import sqlite3
from contextlib import closing
from pathlib import Path

import pytest

from feedscript.diagnostics import FeedscriptError
from feedscript.journal.store import read_journal
from feedscript.review.report.exercises import NOT_RECORDED
from feedscript.review.report.html import report_html, review_of
from feedscript.review.report.lesson import Lesson, read_lesson
from feedscript.session.engine.resume import find_broken

STORED = Path(__file__).with_name("format_1_exercises.sql")
EXERCISE_OF = {"a": "Depth", "b": "Corners", "b1": "Corners", "a1": ""}


@pytest.fixture
def stored(tmp_path: Path) -> Path:
    path = tmp_path / "old.sqlite"
    with closing(sqlite3.connect(path)) as connection:
        connection.executescript(STORED.read_text("utf-8"))
    return path


def change(path: Path, order: str) -> None:
    with closing(sqlite3.connect(path)) as connection, connection:
        connection.execute(order)


def lesson_of(path: Path) -> Lesson:
    with closing(read_journal(path)) as journal:
        return read_lesson(journal)


def test_each_ball_is_in_the_exercise_that_the_plan_names(stored: Path) -> None:
    balls = lesson_of(stored).balls
    assert len(balls) == 28
    found = [ball.exercise for ball in balls if not ball.shown]
    assert found == [EXERCISE_OF[ball.feed] for ball in balls if not ball.shown]
    assert set(found) == {"Depth", "Corners", ""}
    assert {ball.exercise for ball in balls if ball.shown} == {""}


#: What keeps anybody from following the lesson: no plan, another plan, answers that are not there,
#: and a format of before answers were all written down.
LOST = (
    "UPDATE session SET plan = X'7B'",
    "UPDATE session SET plan = X'00'",
    "DELETE FROM entry WHERE kind = 'turn-given' OR kind = 'jump'",
    "UPDATE session SET event_format = 0",
)


@pytest.mark.parametrize("order", LOST)
def test_where_nobody_can_tell_it_is_said(stored: Path, order: str) -> None:
    change(stored, order)
    lesson = lesson_of(stored)
    assert {ball.exercise for ball in lesson.balls if not ball.shown} == {NOT_RECORDED}
    assert {ball.exercise for ball in lesson.balls if ball.shown} == {""}
    page = report_html(review_of(lesson, (), sheet=False))
    assert "26 in an exercise that was not recorded" in page


def test_a_lesson_without_exercises_has_nothing_that_was_not_recorded(stored: Path) -> None:
    change(stored, "UPDATE session SET plan = CAST('{\"steps\": []}' AS BLOB)")
    assert {ball.exercise for ball in lesson_of(stored).balls} == {""}


def test_what_this_feedscript_writes_is_not_found_again_from_the_plan(stored: Path) -> None:
    change(stored, "UPDATE session SET event_format = 2")
    assert {ball.exercise for ball in lesson_of(stored).balls} == {""}


def test_a_plan_that_would_never_end_is_not_followed(stored: Path) -> None:
    """The repeat of a rest for ever, at the head of the first exercise."""
    with closing(sqlite3.connect(stored)) as connection, connection:
        (plan,) = connection.execute("SELECT CAST(plan AS TEXT) FROM session").fetchone()
        endless = (
            '{"step":"repeat","line":3,"times":1000000000,'
            '"body":[{"step":"rest","line":3,"seconds":0.0}]},'
        )
        head = '"body":['
        at = plan.index(head, plan.index('"title":"Depth"')) + len(head)
        longer = plan[:at] + endless + plan[at:]
        connection.execute("UPDATE session SET plan = ?", (longer.encode(),))
    lesson = lesson_of(stored)
    assert {ball.exercise for ball in lesson.balls if not ball.shown} == {NOT_RECORDED}


def test_it_is_not_gone_on_with(stored: Path) -> None:
    change(stored, "UPDATE session SET ending = NULL")
    with closing(read_journal(stored)) as journal, pytest.raises(FeedscriptError) as refused:
        find_broken(journal, 1)
    assert "another version" in refused.value.diagnostic.message
