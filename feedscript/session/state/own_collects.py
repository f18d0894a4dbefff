"""How long a coach's own collects took, from the journal: it corrects a design value of the check.

Only collects of real lessons count that were nothing else: no break, no wait for the coach, no stop
in between; and only once there are enough of them.
"""

from __future__ import annotations

from collections.abc import Iterator
from statistics import median

import msgspec

from feedscript.check.hour import OwnCollects, collect_s
from feedscript.diagnostics import FeedscriptError
from feedscript.journal.queries import entries_of, session_numbers, session_of
from feedscript.journal.store import Journal
from feedscript.launcher.port import Outcome
from feedscript.plan.model import Plan
from feedscript.session.operator.phase_words import PHASES
from feedscript.session.operator.phases import Act, Phase
from feedscript.session.state import events as e

#: Fewer collects than this are chance. Design value.
LEAST_COLLECTS = 5
#: And more lessons than these are another group's, and another season's. Design value.
LAST_LESSONS = 20
#: What is called where balls are collected and nothing else is done.
_COLLECT = PHASES[Phase.COLLECTING].to_group.partition(".")[0]


def own_collects(journal: Journal) -> OwnCollects | None:
    """The median over the newest lessons; None where there are too few collects."""
    shares: list[float] = []
    for number in session_numbers(journal)[-LAST_LESSONS:]:
        try:
            shares += _of_lesson(journal, number)
        except (FeedscriptError, msgspec.MsgspecError):
            continue  # a lesson that cannot be read tells nothing
    if len(shares) < LEAST_COLLECTS:
        return None
    return OwnCollects(round(median(shares), 3), len(shares))


def _of_lesson(journal: Journal, number: int) -> Iterator[float]:
    """For each collect of a lesson how long it took, as a share of what is reckoned for it."""
    row = session_of(journal, number)
    if row is None or row.rehearsal:
        return
    plan = msgspec.json.decode(row.plan, type=Plan)
    begun_s: float | None = None
    lying = 0
    for entry in entries_of(journal, number, "act", "happened", "outcome", "break", "call"):
        event = msgspec.json.decode(entry.data, type=e.KINDS[entry.kind])
        match event:
            case e.BallSettled(outcome=Outcome.LEFT):
                lying += 1
            case e.Happened(phase=Phase.COLLECTING):
                begun_s = entry.utc_s
            case e.Commanded(act=Act.COLLECTED, phase=Phase.SETTING_UP):
                reckoned_s = collect_s(plan, lying)
                if begun_s is not None and reckoned_s > 0.0:
                    yield (entry.utc_s - begun_s) / reckoned_s
                begun_s, lying = None, 0
            case e.Called(text=text) if text.startswith(_COLLECT):
                pass
            case e.BreakBegan() | e.Called() | e.Happened():
                begun_s = None  # a break, or a wait for the coach
            case e.Commanded(phase=phase) if phase is not Phase.COLLECTING:
                begun_s = None
