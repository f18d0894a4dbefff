"""A lesson that was broken off, taken up again where it was: its events, read again.

What left stays left and is not fed again. What was intended and never settled is asked of the
launcher first; where it does not know, a person is asked. The set-up steps, the arming and the
rules are gone through as at the beginning.
"""

from __future__ import annotations

from typing import Any

import msgspec

from feedscript.diagnostics import FeedscriptError, Page
from feedscript.journal.queries import broken_off, session_of
from feedscript.journal.store import Journal
from feedscript.journal.stored import unbelievable
from feedscript.launcher.profile.model import Profile
from feedscript.plan.interpreter.actions import SendBall, WatchSpeed
from feedscript.plan.model import Plan
from feedscript.session.engine.guards import Fences
from feedscript.session.engine.launcher_handle import Ball
from feedscript.session.engine.live_run import LiveRun
from feedscript.session.engine.place import call_again, find_place
from feedscript.session.engine.start import Setting, lesson_of
from feedscript.session.state.event_log import read_state, texts
from feedscript.session.state.events import EVENT_FORMAT, FeedRequested, Resumed
from feedscript.session.state.run_state import RunState
from feedscript.visible import HIDDEN

NOTHING_TO_RESUME = Page(
    slug="nothing-to-resume",
    title="No lesson that could go on",
    why=(
        "A lesson can be resumed when it is in the journal, was broken off before its end and was "
        "no rehearsal. A lesson whose players were taken out of the journal cannot go on, nor one "
        "that another version of feedscript wrote; both can still be reviewed."
    ),
)


class Broken(msgspec.Struct, frozen=True, kw_only=True):
    """A lesson that can go on, as the journal has it."""

    session_id: int
    token: int
    source: str
    begun_utc_s: float
    plan: Plan
    profiles: tuple[Profile, ...]
    state: RunState

    @property
    def left_before(self) -> tuple[int, ...]:
        """The highest feed id that each launcher itself reported as left: what a person said is no
        proof of a launcher's memory."""
        launchers = range(len(self.plan.launchers))
        measured = [ball for ball in self.state.left.values() if ball.measured]
        return tuple(
            max((ball.feed_id for ball in measured if ball.launcher == launcher), default=0)
            for launcher in launchers
        )


def find_broken(journal: Journal, session_id: int | None = None) -> Broken:
    """The lesson of this number, or the newest that was broken off.

    Raises FeedscriptError when there is none that can go on, or what stands of it is not whole.
    """
    number = next(iter(broken_off(journal, 1)), None) if session_id is None else session_id
    row = None if number is None else session_of(journal, number)
    if row is None or row.ending == "finished":
        which = "lesson" if session_id is None else f"lesson {session_id} that"
        raise _nothing(journal, f"the journal holds no {which} was broken off")
    if row.event_format != EVENT_FORMAT:
        raise _nothing(journal, f"lesson {row.id} was written by another version of feedscript")
    try:
        plan = msgspec.json.decode(row.plan, type=Plan)
        profiles = msgspec.json.decode(row.profiles, type=tuple[Profile, ...])
    except (msgspec.MsgspecError, UnicodeDecodeError, RecursionError) as trouble:
        raise _nothing(journal, f"lesson {row.id} cannot be read: {trouble}") from trouble
    hidden = next((text for text in texts(msgspec.to_builtins(plan)) if HIDDEN.search(text)), None)
    if hidden is not None:
        told = f"its plan holds a character that is not seen, in {hidden[:40]!r}"
        raise unbelievable(journal.path, row.id, told)
    return Broken(
        session_id=row.id,
        token=row.token,
        source=row.source,
        begun_utc_s=row.begun_utc_s,
        plan=plan,
        profiles=profiles,
        state=read_state(journal, row.id, plan),
    )


def _nothing(journal: Journal, message: str) -> FeedscriptError:
    return FeedscriptError(
        NOTHING_TO_RESUME.report(
            message, device=journal.path, help="start the lesson again with `feedscript run FILE`"
        )
    )


def resume_lesson(broken: Broken, journal: Journal, fences: Fences, setting: Setting) -> LiveRun:
    """The lesson where its events left it. To be called inside the event loop that will run it."""
    state = broken.state
    setting_of = (broken.session_id, fences, setting, state, broken.begun_utc_s)
    lesson = lesson_of(broken.plan, broken.profiles, journal, *setting_of)
    lesson.log(Resumed(balls_left=len(state.left)))
    find_place(lesson)
    call_again(lesson)
    return lesson


def unsettled_balls(lesson: LiveRun) -> list[Ball]:
    """The balls under way when the lesson was broken off, for its launchers to be asked about."""
    return [_unsettled(lesson, asked) for asked in lesson.state.under_way.values()]


def _unsettled(lesson: LiveRun, asked: FeedRequested) -> Ball:
    where: dict[str, Any] = {"at_s": 0.0, "line": 0, "station": asked.station}
    what: dict[str, Any] = {
        "ball": asked.ball_no,
        "feed": asked.feed_index,
        "launcher": asked.launcher,
    }
    action: SendBall | WatchSpeed
    if asked.shown:
        action = WatchSpeed(**where, **what)
    else:
        action = SendBall(**where, **what, player=None, after_s=0.0, series=0)
    return Ball(
        feed_id=asked.feed_id,
        action=action,
        place=asked.place,
        setting=lesson.plan.feeds[asked.feed_index].setting,
        lesson_s=0.0,
        device_s=asked.leave_at_device_s,
        host_s=lesson.wall.host(asked.leave_utc_s),
        player=asked.player,
    )
