"""A lesson begun: journaled, with its group, its set-up list and its first feed number."""

from __future__ import annotations

import secrets
from collections.abc import Sequence
from dataclasses import dataclass

import anyio
import msgspec

from feedscript.journal.store import Journal, SessionStart
from feedscript.launcher.profile.model import Profile
from feedscript.plan.canonical import canonical_bytes
from feedscript.plan.certificate import SetUpItem
from feedscript.plan.model import Plan
from feedscript.safety.hazards.stations import most_stations
from feedscript.session.engine.guards import Fences
from feedscript.session.engine.journal_queue import JournalQueue
from feedscript.session.engine.lesson import Lesson
from feedscript.session.engine.wall_clock import WallClock, never, suspended_s
from feedscript.session.group.questions import QUESTIONS
from feedscript.session.group.recording import Recording
from feedscript.session.group.roster import roster_of

#: What a person looks at before arming again after a collect or a stop.
AFTER_PAUSE = (
    SetUpItem(key="cause", words="The cause of the pause is over, and no ball lies underfoot."),
    SetUpItem(key="loaded", words="The launcher is loaded with standard balls, its guards are on."),
    SetUpItem(key="clear", words="Nobody is in front of the launcher or reaches into it."),
)


@dataclass(frozen=True, slots=True)
class Setting:
    """How a lesson is to be run."""

    source: str  # the program's file
    rehearsal: bool
    wall_utc_s: float  # UTC at the moment of the beginning
    questions: dict[str, tuple[str, ...]] | None = None


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
) -> Lesson:
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
        )
    )
    return lesson_of(plan, journal, session_id, fences, setting)


def lesson_of(
    plan: Plan, journal: Journal, session_id: int, fences: Fences, setting: Setting
) -> Lesson:
    """The lesson with this number in the journal, at its beginning."""
    stations = most_stations(plan.steps)
    certificate = plan.certificate
    asleep = never if setting.rehearsal else suspended_s
    return Lesson(
        plan=plan,
        journal=journal,
        session_id=session_id,
        journal_queue=JournalQueue(threaded=not setting.rehearsal),
        wall=WallClock(setting.wall_utc_s, anyio.current_time(), asleep),
        fences=fences,
        roster=roster_of(plan.group, stations),
        recording=Recording(questions=dict(setting.questions or QUESTIONS)),
        set_up=certificate.set_up if certificate is not None else AFTER_PAUSE,
        after_pause=AFTER_PAUSE,
        rehearsal=setting.rehearsal,
    )
