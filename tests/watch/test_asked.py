"""What the journal says of a lesson's balls, as a film is searched for them."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from feedscript.diagnostics import Diagnostic, FeedscriptError
from feedscript.journal.store import open_journal
from feedscript.watch.asked import AskedLesson, asked_of, events_of, expected_of
from feedscript.watch.camera.camera import looking
from feedscript.watch.sync.align import Clock
from tests.review.calendar import write_lesson
from tests.watch.lesson_filmed import LEFT_S, UTC_S, planned, write_journal

CAMERA = looking((0.0, 18.0, 3.0), (0.0, 0.0, 0.0), 1000.0, (1280, 720))
CLOCK = Clock(UTC_S + 10, 10.0, 0.01, 0.0, 0.0, 10, 10)


@pytest.fixture(scope="module")
def lesson(tmp_path_factory: pytest.TempPathFactory) -> AskedLesson:
    path = tmp_path_factory.mktemp("journal") / "journal.sqlite"
    write_journal(path, *planned(), LEFT_S)
    journal = open_journal(path)
    try:
        return asked_of(journal, 1)
    finally:
        journal.close()


def test_each_ball_is_the_feed_of_the_plan(lesson: AskedLesson) -> None:
    assert [ball.feed.wish for ball in lesson.balls[:3]] == ["deep", "wide", "deep"]
    expected = expected_of(lesson, CLOCK)
    assert not isinstance(expected, Diagnostic)
    for one, at_s, ball in zip(expected, LEFT_S, lesson.balls, strict=True):
        assert abs(one.left_s - at_s) < 0.05
        assert one.speed_mps == ball.feed.speed_mps
        assert one.scatter.left_s > 0.02  # the clock's share is in it


def test_far_sounds_come_later(lesson: AskedLesson) -> None:
    """The mouth is 30 m away and more: nearly a tenth of a second; bounces are nearer."""
    events = events_of(lesson, CAMERA)
    assert len(events) == 2 * len(LEFT_S)
    left, down = events[0], events[1]
    mouth_m = lesson.plan.launchers[0].mouth_m
    assert left.takes_s == pytest.approx(np.linalg.norm(np.subtract(mouth_m, (0, 18, 3))) / 343)
    assert down.takes_s < left.takes_s / 2
    assert down.at_utc_s - left.at_utc_s == pytest.approx(lesson.balls[0].feed.flight_s)


def test_a_lesson_that_cannot_be_read_is_refused(tmp_path: Path) -> None:
    journal = open_journal(tmp_path / "journal.sqlite")
    write_lesson(journal, 0, turns=1)
    for number in (1, 7):
        with pytest.raises(FeedscriptError, match=f"lesson {number}") as refused:
            asked_of(journal, number)
        assert refused.value.diagnostic.slug == "lesson-not-watchable"
    journal.close()
