"""A coach's own collects correct what is reckoned for them, once there are enough."""

from __future__ import annotations

from collections.abc import Sequence

import msgspec
import pytest

from feedscript.check.hour import OwnCollects, collect_s, hour_of, in_words
from feedscript.check.hour_left import times_of
from feedscript.journal.store import Journal, SessionStart, open_journal
from feedscript.launcher.port import Outcome
from feedscript.plan.canonical import canonical_bytes
from feedscript.plan.folds.bounds import bounds
from feedscript.plan.model import Collect, Repeat
from feedscript.session.operator.phase_words import PHASES
from feedscript.session.operator.phases import Act, Happening, Phase
from feedscript.session.state import events as e
from feedscript.session.state.events import EVENT_FORMAT
from feedscript.session.state.own_collects import LEAST_COLLECTS, own_collects
from tests.plan.small_plans import send
from tests.session.rehearsing import lesson_plan

DRAFT = lesson_plan(Repeat(times=12, body=(send(0, 4.0),), line=2), Collect(line=3))
PLAN = msgspec.structs.replace(DRAFT, bounds=bounds(DRAFT))
BALLS = 12
RECKONED_S = collect_s(PLAN, BALLS)
COLLECT = str(PHASES[Phase.COLLECTING].to_group)
LEFT = e.BallSettled(feed_id=1, outcome=Outcome.LEFT, left_utc_s=1e9)
SAFE = e.Happened(happening=Happening.MADE_SAFE, phase=Phase.COLLECTING)
DONE = e.Commanded(act=Act.COLLECTED, by="x", phase=Phase.SETTING_UP)
STOPPED = e.Commanded(act=Act.STOP, by="x", phase=Phase.STOPPED)
BREAK = e.BreakBegan(lane="", number=3, utc_s=1e9)


def words(text: str) -> e.Event:
    return e.Called(text=text, utc_s=1e9)


def held(journal: Journal, *shares: float, between: Sequence[e.Event] = (), real: bool = True):
    """A lesson with one collect for each share of what is reckoned; ``between`` happens in each."""
    number = journal.begin_session(
        SessionStart(
            token=1,
            begun_utc_s=1e9,
            title="",
            source="",
            rehearsal=not real,
            plan=canonical_bytes(PLAN),
            profiles=b"[]",
            group_json="",
            event_format=EVENT_FORMAT,
        )
    )
    at_s = 1e9

    def note(event: e.Event) -> None:
        journal.note(number, at_s, e.KIND_OF[type(event)], event, None)

    for share in shares:
        for _ in range(BALLS):
            note(LEFT)
        note(SAFE)
        for event in between or (words(COLLECT),):
            note(event)
        at_s += share * RECKONED_S
        note(DONE)


def test_the_median_of_enough_of_them_counts() -> None:
    journal = open_journal(None)
    held(journal, 1.5, 1.6, 9.0)
    assert own_collects(journal) is None  # chance
    held(journal, 1.4, 0.2)
    assert own_collects(journal) == OwnCollects(1.5, LEAST_COLLECTS)


@pytest.mark.parametrize(
    "between",
    [(words("Break of 3 min. The launcher is off."), BREAK), (words("Look."),), (STOPPED,)],
)
def test_what_was_no_plain_collect_does_not_count(between: tuple[e.Event, ...]) -> None:
    journal = open_journal(None)
    held(journal, *[2.0] * 9, between=between)
    assert own_collects(journal) is None


def test_a_rehearsal_tells_nothing_of_people() -> None:
    journal = open_journal(None)
    held(journal, *[0.1] * 9, real=False)
    assert own_collects(journal) is None


def test_the_hour_is_reckoned_by_them_and_says_so() -> None:
    own = OwnCollects(1.5, 14)
    plain, corrected = hour_of(PLAN), hour_of(PLAN, own)
    assert corrected.collecting_s == pytest.approx(1.5 * plain.collecting_s)
    assert corrected.play_s == plain.play_s
    assert any("own last 14 collects took: 150%" in line for line in in_words(corrected))
    assert not any("collects took" in line for line in in_words(plain))
    more_s = times_of(PLAN, own).steps[1].whole_s - times_of(PLAN).steps[1].whole_s
    assert more_s == pytest.approx(0.5 * RECKONED_S)
