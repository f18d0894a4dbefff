"""What a journal proves when a lesson is taken up again, and what only somebody said."""

from __future__ import annotations

import anyio

from feedscript.journal.store import Journal, open_journal
from feedscript.launcher.port import Outcome
from feedscript.plan.model import Repeat, Result, ShowSpeed
from feedscript.session.engine.live_run import LiveRun
from feedscript.session.engine.resume import find_broken, resume_lesson
from feedscript.session.engine.start import Setting, begin_lesson
from feedscript.session.operator.phases import Act, Happening, Phase
from feedscript.session.state.event_log import write_event
from feedscript.session.state.events import (
    BallSettled,
    Commanded,
    Event,
    FeedRequested,
    Happened,
    ResultRecorded,
    SpeedSeen,
)
from tests.plan.small_plans import send
from tests.session.rehearsing import GARAGE, OpenFences, lesson_plan

PLAN = lesson_plan(
    ShowSpeed(feed=0, line=1),
    ShowSpeed(feed=2, line=1),
    Repeat(times=5, body=(send(0, 4.0), send(2, 4.0)), line=2),
    launchers=2,
)
SETTING = Setting(source="invented.feed", rehearsal=False, wall_utc_s=1e9)
ARMED = (
    Happened(happening=Happening.CONNECTED, phase=Phase.SETTING_UP),
    Happened(happening=Happening.SET_UP, phase=Phase.ARMING),
)
RUNNING = (
    *ARMED,
    Happened(happening=Happening.ARMED, phase=Phase.READY),
    Commanded(act=Act.GO_ON, by="keys", phase=Phase.REGROUPING),
    Happened(happening=Happening.REGROUPED, phase=Phase.RUNNING),
)
WATCHING = (
    Happened(happening=Happening.ARMED_FOR_SPEED, phase=Phase.SHOWING),
    Commanded(act=Act.CLEAR, by="keys", phase=Phase.WATCHING),
)
SHOWN = Happened(happening=Happening.SHOWN, phase=Phase.JUDGING)


def left(
    feed_id: int, launcher: int, *, reported: bool, shown: bool, number: int | None = None
) -> tuple[Event, ...]:
    """A ball that left, as the launcher reported or as a person said."""
    place = 2 * launcher if shown else 10 * feed_id  # a speed is shown at the plan's beginning
    return (
        FeedRequested(
            feed_id=feed_id,
            ball_no=feed_id,
            launcher=launcher,
            feed="a",
            feed_index=2 * launcher,
            player=None,
            station="",
            lane="",
            number=place if number is None else number,
            shown=shown,
            leave_at_device_s=10.0 * feed_id,
            leave_utc_s=1e9 + feed_id,
        ),
        BallSettled(
            feed_id=feed_id,
            outcome=Outcome.LEFT,
            left_device_s=10.0 * feed_id if reported else None,
            left_utc_s=1e9 + feed_id,
        ),
    )


def a_journal(*happened: Event) -> Journal:
    """Of a lesson to which this happened."""

    async def begin() -> LiveRun:
        return begin_lesson(PLAN, [GARAGE] * 2, journal, OpenFences(), SETTING, 7)

    journal = open_journal(None)
    lesson = anyio.run(begin)
    for moment, event in enumerate(happened):
        write_event(journal, lesson.session_id, 1e9 + moment, event)
    return journal


def test_a_persons_word_is_no_proof_of_what_a_launcher_remembers() -> None:
    """Only a ball that the launcher itself reported shows that its memory reaches back."""
    journal = a_journal(
        *RUNNING,
        *left(1, 0, reported=True, shown=False),
        *left(2, 0, reported=False, shown=False),
        *left(3, 1, reported=False, shown=False),
    )
    assert find_broken(journal).left_before == (1, 0)


def test_a_speed_ball_that_nobody_found_as_stated_shows_nothing() -> None:
    """Both left; whether it was as fast as stated was said of the first launcher's alone."""
    journal = a_journal(
        *ARMED,
        *WATCHING,
        *left(1, 0, reported=True, shown=True),
        SHOWN,
        SpeedSeen(lane="", number=0, feed=0),
        Commanded(act=Act.SEEN, by="keys", phase=Phase.READY),
        Commanded(act=Act.GO_ON, by="keys", phase=Phase.REGROUPING),
        Happened(happening=Happening.REGROUPED, phase=Phase.RUNNING),
        Happened(happening=Happening.SPEED_BALL_NEXT, phase=Phase.SHOWING),
        WATCHING[1],
        *left(2, 1, reported=True, shown=True),
        SHOWN,
    )

    async def resume() -> LiveRun:
        return resume_lesson(find_broken(journal), journal, OpenFences(), SETTING)

    assert anyio.run(resume).state.shown_mps == {0: PLAN.feeds[0].speed_mps}


def test_of_two_taps_for_one_ball_the_latest_is_recalled() -> None:
    journal = a_journal(
        *RUNNING,
        *left(1, 0, reported=True, shown=False),
        ResultRecorded(feed_id=1, result=Result.NET, tapped_utc_s=1e9 + 4.0),
        ResultRecorded(feed_id=1, result=Result.IN, tapped_utc_s=1e9 + 5.0),
    )
    (record,) = find_broken(journal).state.records.values()
    assert record.result is Result.IN
