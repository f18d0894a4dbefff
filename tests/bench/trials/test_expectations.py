"""Each expectation against what launchers saw, written out by hand: red and green."""

from __future__ import annotations

import msgspec
import pytest

from feedscript.bench.trials.expectations import WORDS, Case, judge, shape_of
from feedscript.launcher.port import LauncherState as S
from feedscript.launcher.port import Outcome
from feedscript.launcher.trials.far_end import Kind, Seen
from feedscript.session.engine.engine import Ending
from feedscript.session.operator.phases import Phase
from feedscript.session.rehearsal.rehearse import Rehearsal, Rehearsed
from tests.bench.trials.programs import checked, trial


def ball(at_s: float, feed: int = 1, drive: float = 900.0) -> Seen:
    return Seen(at_s=at_s, kind=Kind.LEFT, feed_id=feed, session=7, drives=(drive, drive))


def state(at_s: float, what: S, *, person: bool = False) -> Seen:
    return Seen(at_s=at_s, kind=Kind.STATE, state=what, by_person=person)


def power(at_s: float, on: bool) -> Seen:
    return Seen(at_s=at_s, kind=Kind.POWER, powered=on)


STRUCK = Seen(at_s=10.0, kind=Kind.STRUCK, fault="it")
ARMED = state(1.0, S.ARMED, person=True)
STOPS = state(10.4, S.STOPPING)
AGAIN = state(15.0, S.ARMED, person=True)

#: Words, what was seen beside the fault's moment at 10 s, and whether they hold.
SEEN: list[tuple[str, list[Seen], bool]] = [
    ("stopped within 0.5 s", [ARMED, STOPS], True),
    ("stopped within 0.3 s", [ARMED, STOPS], False),
    ("stopped within 0.5 s", [ARMED], False),
    ("stopped within 0.5 s", [ARMED, STOPS, ball(10.6)], False),
    ("stopped within 0.5 s", [ARMED, STOPS, AGAIN, ball(16.0)], True),
    ("stopped within 0.5 s", [ARMED, STOPS, state(15.0, S.ARMED), ball(16.0)], False),
    ("all stopped within 0.5 s", [ARMED, STOPS], True),
    ("all stopped within 0.5 s", [ARMED], False),
    ("held within 0.5 s", [ARMED, state(10.2, S.HELD)], True),
    ("held within 0.5 s", [ARMED, state(10.2, S.HELD), ball(10.9)], False),
    ("held within 0.5 s", [ARMED, state(10.2, S.HELD), state(10.8, S.ARMED), ball(10.9)], True),
    ("without power within 1 s", [power(1.0, True), power(10.9, False)], True),
    ("without power within 1 s", [power(1.0, True), power(11.1, False)], False),
    ("without power within 1 s", [power(1.0, True)], False),
    ("nothing twice", [ARMED, ball(5.0, 1), ball(6.0, 2)], True),
    ("nothing twice", [ARMED, ball(5.0, 1), ball(6.0, 1)], False),
    ("armed by a person", [ARMED, ball(5.0)], True),
    ("armed by a person", [ball(5.0)], False),
    ("armed by a person", [ARMED, STOPS, state(11.0, S.ARMED), ball(12.0)], False),
    ("armed by a person", [ARMED, STOPS, ball(10.5)], True),  # it had passed the gate
    ("goes on", [ARMED, ball(5.0)], False),
    ("goes on", [ARMED, ball(12.0)], True),
    ("no ball after", [ARMED, ball(5.0)], True),
    ("no ball after", [ARMED, ball(12.0)], False),
    ("none too fast", [ARMED, ball(5.0)], True),
    ("none too fast", [ARMED, ball(5.0, drive=9000.0)], False),
    ("written down", [ARMED, ball(5.0, 1)], True),
    ("written down", [ARMED, ball(5.0, 1), ball(6.0, 2)], False),
    ("written down", [ARMED], False),
]


@pytest.mark.parametrize(("words", "seen", "holds"), SEEN)
def test_it_is_judged_by_what_was_seen(words: str, seen: list[Seen], holds: bool) -> None:
    plan = checked().plan
    assert plan is not None
    wrote = Rehearsed(
        feed_id=1,
        launcher=0,
        feed="deep",
        player=None,
        at_s=0.0,
        outcome=Outcome.LEFT,
        reason="",
        aim_m=(0.0, 0.0),
        landing_m=None,
        shown=False,
    )
    rows = tuple(sorted([STRUCK, *seen], key=lambda row: row.at_s))
    done = Rehearsal(
        Ending(phase=Phase.BROKEN_OFF, diagnostics=(), cause=""),
        (wrote,),
        (),
        0.0,
        0.0,
        seen=(rows,),
    )
    found = judge(words, Case(trial=trial(where="launcher", what="jam"), plan=plan, rehearsal=done))
    assert found.holds is holds, found
    assert msgspec.json.encode(found)


def test_every_expectation_is_tried_both_ways() -> None:
    tried = {(shape_of(words), holds) for words, _, holds in SEEN}
    assert tried == {(words, holds) for words in WORDS for holds in (True, False)}
