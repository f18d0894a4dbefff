"""A program's balls by its own times: held to a rehearsal's, engine, wire and all."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from feedscript.check.check_program import Verdict, check_program
from feedscript.diagnostics import FeedscriptError
from feedscript.journal.queries import balls_that_left
from feedscript.journal.store import open_journal
from feedscript.session.rehearsal.rehearse import rehearse
from feedscript.watch.planned import asked_by_plan

HEAD = """feedscript 1
court { surface hard }
balls { type 2  load 20 }
launcher { profile "garage"  stands on baseline, on centre line }
group { players "Ana", "Ben" }
feed deep { land 2 m inside baseline, on centre line  speed 80 km/h }
feed wide { land 2.5 m inside baseline, 2 m ad of centre line  speed 75 km/h }
"""
LESSON = """lesson {
    show speed of deep
    for each player { send deep after 5 s  send wide after 3.4 s  rest 4 s }
    collect
    repeat 3 { choose { 2: send deep after 5 s vary 0.7 s  1: send wide after 5 s } }
    rest 3 s
    repeat 3 { send wide after 4.1 s }
}
"""


def checked(lesson: str) -> Verdict:
    verdict = check_program(Path("lesson.feed"), text=HEAD + lesson)
    assert verdict.plan is not None, verdict.diagnostics
    return verdict


@pytest.fixture(scope="module")
def verdict() -> Verdict:
    return checked(LESSON)


@pytest.mark.parametrize(("at_ball", "numbers"), [(None, range(6, 12)), (3, range(2, 6))])
def test_balls_of_a_stretch_leave_as_a_rehearsal_sends_them(
    verdict: Verdict, at_ball: int | None, numbers: range
) -> None:
    assert verdict.plan is not None
    journal = open_journal(None)
    rehearse(verdict.plan, verdict.profiles, "lesson.feed", journal=journal)
    rows = [row for row in balls_that_left(journal, 1) if row.feed_id in numbers]
    journal.close()
    asked = asked_by_plan(verdict.plan, verdict.profiles, at_ball, "lesson.feed")
    assert [ball.number for ball in asked.balls] == list(numbers)
    assert [ball.feed.name for ball in asked.balls] == [row.feed for row in rows]
    left_s = np.array([row.left_utc_s for row in rows], np.float64)
    planned_s = [ball.left_utc_s for ball in asked.balls]
    assert np.allclose(left_s - left_s[0], np.subtract(planned_s, planned_s[0]), atol=0.02)


@pytest.mark.parametrize(
    ("lesson", "complaint"),
    [
        (
            "lesson { show speed of deep  until 2 in a row in, at most 5 { send deep after 5 s } }",
            "hangs on how players' shots ended",
        ),
        (
            "lesson { show speed of deep  send deep when coach taps, at most 5, not before 5 s }",
            "when somebody asks for it",
        ),
    ],
)
def test_what_people_decide_is_not_guessed(lesson: str, complaint: str) -> None:
    verdict = checked(lesson)
    assert verdict.plan is not None
    with pytest.raises(FeedscriptError, match=complaint) as refused:
        asked_by_plan(verdict.plan, verdict.profiles, None, "lesson.feed")
    assert refused.value.diagnostic.slug == "no-planned-times"


def test_a_ball_that_it_does_not_send_is_told_with_those_that_it_does(verdict: Verdict) -> None:
    assert verdict.plan is not None
    with pytest.raises(FeedscriptError) as refused:
        asked_by_plan(verdict.plan, verdict.profiles, 12, "lesson.feed")
    assert refused.value.diagnostic.help == "its balls are 1 to 11"
