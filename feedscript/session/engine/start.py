"""A lesson begun: journaled, with its group, its set-up list and its first feed number."""

from __future__ import annotations

import secrets
from collections.abc import Sequence

import anyio
import msgspec

from feedscript.check.hour_left import times_of
from feedscript.journal.store import Journal, SessionStart
from feedscript.launcher.profile.model import Profile
from feedscript.plan.canonical import canonical_bytes
from feedscript.plan.model import Plan
from feedscript.safety.rules.short_change_over import coming_s
from feedscript.safety.set_up import set_up
from feedscript.session.engine.by_hand.rungs import as_last_time
from feedscript.session.engine.guards import Fences, apart_in
from feedscript.session.engine.journal_queue import JournalQueue
from feedscript.session.engine.live_run import LiveRun
from feedscript.session.engine.wall_clock import WallClock, never, suspended_s
from feedscript.session.group.questions import QUESTIONS
from feedscript.session.group.recording import Offers
from feedscript.session.state.events import EVENT_FORMAT
from feedscript.session.state.own_collects import own_collects
from feedscript.session.state.plan_cursor import begin
from feedscript.session.state.run_state import RunState, state_at_the_start
from feedscript.tongues.text import plain


class Setting(msgspec.Struct, frozen=True):
    """How a lesson is to be run."""

    source: str  # the program's file
    rehearsal: bool
    wall_utc_s: float  # UTC at the moment of the beginning
    questions: dict[str, tuple[str, ...]] | None = None
    another: bool = False  # once it is over the next lesson is chosen
    measures: bool = False  # a person says of each ball where it came down


def new_token() -> int:
    """A session's token: 32 bits, never 0."""
    return secrets.randbelow(2**32 - 1) + 1


def begin_lesson(
    plan: Plan,
    profiles: Sequence[Profile],
    journal: Journal,
    fences: Fences,
    setting: Setting,
    token: int,
) -> LiveRun:
    """A new lesson, written down. To be called inside the event loop that will run it."""
    group = msgspec.json.encode(plan.group).decode()
    session_id = journal.begin_session(
        SessionStart(
            token=token,
            begun_utc_s=setting.wall_utc_s,
            title=plan.title,
            source=setting.source,
            rehearsal=setting.rehearsal,
            plan=canonical_bytes(plan),
            profiles=msgspec.json.encode(profiles),
            group_json=group,
            event_format=EVENT_FORMAT,
        )
    )
    state, begun_s = state_at_the_start(plan), setting.wall_utc_s
    lesson = lesson_of(plan, profiles, journal, session_id, fences, setting, state, begun_s)
    as_last_time(lesson, lesson.roster.here)
    lesson.course = begin(plan, lesson.state.first_stands)
    return lesson


def lesson_of(
    plan: Plan,
    profiles: Sequence[Profile],
    journal: Journal,
    session_id: int,
    fences: Fences,
    setting: Setting,
    state: RunState,
    begun_utc_s: float,
) -> LiveRun:
    """The lesson with this number in the journal, where it stands; when it was begun."""
    asleep = never if setting.rehearsal else suspended_s
    return LiveRun(
        plan=plan,
        step_words={plain(one.words): one.words for one in set_up(plan, tuple(profiles))},
        journal=journal,
        session_id=session_id,
        journal_queue=JournalQueue(threaded=not setting.rehearsal),
        wall=WallClock(setting.wall_utc_s, anyio.current_time(), asleep),
        fences=fences,
        offers=Offers(questions=dict(setting.questions or QUESTIONS)),
        rehearsal=setting.rehearsal,
        another=setting.another,
        measures=setting.measures,
        state=state,
        course=begin(plan, state.first_stands),
        apart=apart_in(plan),
        begun_utc_s=begun_utc_s,
        coming_s=coming_s(plan),
        times=None if plan.planned_s is None else times_of(plan, own_collects(journal)),
    )
