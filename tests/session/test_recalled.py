"""What a journal proves when a lesson is taken up again, and what only somebody said."""

from __future__ import annotations

import anyio

from feedscript.journal.store import BallIntent, BallOutcome, Journal, open_journal
from feedscript.launcher.port import Outcome
from feedscript.plan.model import Repeat, ShowSpeed
from feedscript.session.engine.lesson import Lesson
from feedscript.session.engine.resume import find_broken, resume_lesson
from feedscript.session.engine.start import Setting, begin_lesson
from tests.plan.small_plans import send
from tests.session.rehearsing import GARAGE, OpenFences, lesson_plan

PLAN = lesson_plan(
    ShowSpeed(feed=0, line=1),
    ShowSpeed(feed=2, line=1),
    Repeat(times=5, body=(send(0, 4.0), send(2, 4.0)), line=2),
    launchers=2,
)
SETTING = Setting(source="invented.feed", rehearsal=False, wall_utc_s=1e9)


def a_journal() -> tuple[Journal, Lesson]:
    async def begin() -> Lesson:
        return begin_lesson(PLAN, [GARAGE] * 2, journal, OpenFences(), SETTING, 7)

    journal = open_journal(None)
    return journal, anyio.run(begin)


def left(
    journal: Journal, lesson: Lesson, feed_id: int, launcher: int, *, reported: bool, shown: bool
) -> None:
    """A ball that left, as the launcher reported or as a person said."""
    number = 2 * launcher  # of the action that shows a launcher's speed
    journal.intend(
        lesson.session_id,
        BallIntent(
            feed_id=feed_id,
            ball_no=feed_id,
            launcher=launcher,
            feed="a",
            player=None,
            leave_at_device_s=10.0 * feed_id,
            intent_utc_s=1e9,
            feed_index=2 * launcher,
            number=number if shown else 10 * feed_id,
            shown=shown,
        ),
    )
    journal.settle(
        lesson.session_id,
        BallOutcome(
            feed_id=feed_id,
            outcome=Outcome.LEFT,
            outcome_utc_s=1e9 + feed_id,
            left_device_s=10.0 * feed_id if reported else None,
            left_utc_s=1e9 + feed_id,
        ),
    )


def test_a_persons_word_is_no_proof_of_what_a_launcher_remembers() -> None:
    """Only a ball that the launcher itself reported shows that its memory reaches back."""
    journal, lesson = a_journal()
    left(journal, lesson, 1, 0, reported=True, shown=False)
    left(journal, lesson, 2, 0, reported=False, shown=False)
    left(journal, lesson, 3, 1, reported=False, shown=False)
    assert find_broken(journal).left_before == (1, 0)


def test_a_speed_ball_that_nobody_found_as_stated_shows_nothing() -> None:
    """It left; whether it was as fast as stated was said of the first launcher's alone."""
    journal, lesson = a_journal()
    left(journal, lesson, 1, 0, reported=True, shown=True)
    left(journal, lesson, 2, 1, reported=True, shown=True)
    journal.note(lesson.session_id, 1e9, "decision", {"lane": "", "number": 0, "reply": True})

    async def resume() -> Lesson:
        return resume_lesson(find_broken(journal), journal, OpenFences(), SETTING)

    assert anyio.run(resume).shown_mps == {0: PLAN.feeds[0].speed_mps}
