"""The table of phases: what a person may command, and that stop is never out of reach."""

from __future__ import annotations

import pytest

from feedscript.diagnostics import Diagnostic
from feedscript.session.operator.phases import (
    ENDED,
    TRANSITIONS,
    Act,
    Happening,
    Phase,
    allowed,
    follow,
)

UNDER_WAY = [phase for phase in Phase if phase not in ENDED]


@pytest.mark.parametrize("phase", UNDER_WAY)
@pytest.mark.parametrize("act", [Act.STOP, Act.EMERGENCY_STOP, Act.QUIT])
def test_stop_is_allowed_until_the_lesson_has_ended(phase: Phase, act: Act) -> None:
    assert act in allowed(phase)


@pytest.mark.parametrize("phase", ENDED)
def test_nothing_is_allowed_after_the_end(phase: Phase) -> None:
    assert allowed(phase) == frozenset()


@pytest.mark.parametrize("phase", UNDER_WAY)
def test_a_lost_link_ends_the_lesson_from_anywhere(phase: Phase) -> None:
    assert follow(phase, Happening.LINK_LOST) is Phase.BROKEN_OFF


def test_what_the_table_does_not_hold_is_refused_with_what_may_come() -> None:
    refusal = follow(Phase.SETTING_UP, Act.GO_ON)
    assert isinstance(refusal, Diagnostic)
    assert refusal.slug == "not-now"
    assert "confirm" in refusal.help


def _reachable(start: Phase, without: frozenset[Happening]) -> set[Phase]:
    """Every phase that can follow when these happenings never occur."""
    seen, todo = {start}, [start]
    while todo:
        phase = todo.pop()
        for (before, cause), after in TRANSITIONS.items():
            if before is phase and cause not in without and after not in seen:
                seen.add(after)
                todo.append(after)
    return seen


FEEDING = {
    Phase.SHOWING,
    Phase.WATCHING,
    Phase.JUDGING,
    Phase.READY,
    Phase.RUNNING,
    Phase.REGROUPING,
    Phase.HELD,
}


@pytest.mark.parametrize(
    "start", [Phase.CONNECTING, Phase.SETTING_UP, Phase.COLLECTING, Phase.STOPPED, Phase.ASKING]
)
@pytest.mark.parametrize(
    "missing",
    [
        frozenset({Happening.SET_UP}),
        frozenset({Happening.ARMED, Happening.ARMED_FOR_SPEED, Happening.ARMED_TO_JUDGE}),
    ],
)
def test_no_feeding_without_set_up_and_arming(start: Phase, missing: frozenset[Happening]) -> None:
    """From the start, a stop, a collect or a question, balls fly only after both."""
    assert not _reachable(start, missing) & FEEDING


def test_every_phase_can_be_reached() -> None:
    assert _reachable(Phase.CONNECTING, frozenset()) == set(Phase)
