"""Work at a station without a launcher is no waiting: counted by hand and from actions of runs."""

from __future__ import annotations

from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from feedscript.check.expected import drawing_of
from feedscript.language import read
from feedscript.plan.expect.evaluation import evaluate
from feedscript.plan.expect.waits import longest_wait_s
from feedscript.plan.interpreter.actions import Pause, SendBall, Speak, StartStations
from feedscript.plan.interpreter.runs import run_through
from feedscript.plan.model import Plan
from feedscript.safety.analysis.plan_facts import PlanFacts
from tests.launcher.examples import garage
from tests.plan.programs import compiled
from tests.plan.test_stations_without_launcher import (
    EAST,
    NAMES,
    SERVES,
    SHADOW,
    WEST,
    plan_of,
    text_of,
)


def test_two_who_work_at_once_while_two_take_turns() -> None:
    """By hand, for four at drives and shadowing, 4 min each. At the drives each has 2 min: five
    passes of 24 s with balls at 5, 10 and 15 s, so the first after 5 s and the last after 111 s.
    The two at the other station work from 0 to 50 s, 60 to 110 s, and so on, until 230 s.

    A: 111 s to 240 s, when the work begins. B: 0 s to 125 s. C: 351 s to the end at 480 s. D: from
    the end of the work at 230 s to 365 s.
    """
    plan = plan_of(text_of(4, [WEST, SHADOW]))
    assert [longest_wait_s(plan, number) for number in range(4)] == [129.0, 125.0, 129.0, 135.0]


def test_work_without_a_time_lasts_as_long_as_the_stations() -> None:
    """As above; C and D work until 240 s, when C's turn begins, and D's first ball is at 365 s."""
    plan = plan_of(text_of(4, [WEST, SERVES]))
    assert [longest_wait_s(plan, number) for number in range(4)] == [129.0, 125.0, 129.0, 125.0]


def test_whoever_has_done_the_work_waits_for_the_others() -> None:
    """Without `rotate` the work is done once, and the station beside it takes 3 times 24 s: two
    wait from the end of their 20 s to the end of the lesson."""
    west = WEST.replace("rest 9 s }", "rest 9 s  repeat 6 { send left after 8 s } }")
    steps = f'together {{ {west} station "s" {{ work "Split step." for 20 s }} }}'
    text = text_of(4, [WEST, SHADOW]).split("rotate", maxsplit=1)[0] + steps + " }"
    plan = plan_of(text)
    assert [longest_wait_s(plan, number) for number in (2, 3)] == [72.0 - 20.0] * 2


@pytest.mark.parametrize(("most", "outcome"), [("136 s", "passes"), ("134 s", "fails")])
def test_what_a_tester_expects_is_held_against_it(most: str, outcome: str) -> None:
    text = text_of(4, [WEST, SHADOW]) + f"expect {{ no player waits longer than {most} }}"
    program, found = read(text, "lesson.feed")
    assert program is not None, found
    plan = compiled(program).plan
    assert plan is not None
    drawing = drawing_of(PlanFacts(plan, (garage(),) * 2), 50, 1)
    (expected,) = (evaluate(one, program, drawing) for one in program.expectations)
    assert expected.standing.value == outcome
    assert expected.figure == "D waits up to 2 min 15 s"


def seen_s(plan: Plan, player: int) -> float:
    """The longest time in which nothing is the player's, on the one run of such a lesson."""
    busy, end_s, open_at = [(0.0, 0.0)], 0.0, None
    for action in run_through(plan, lambda _: None):
        if isinstance(action, StartStations):
            if open_at is not None:
                busy.append((open_at, end_s))
            end_s, open_at = action.until_s, None
        elif isinstance(action, SendBall) and action.player == player:
            busy.append((action.at_s, action.at_s))
        elif isinstance(action, Speak) and player in action.players:
            open_at, where = action.at_s, action.station
        elif isinstance(action, Pause) and open_at is not None and action.station == where:
            busy.append((open_at, action.until_s))
            open_at = None
    if open_at is not None:
        busy.append((open_at, end_s))
    busy.append((end_s, end_s))
    return max(later - over for (_, over), (later, _) in pairwise(busy))


@settings(max_examples=30, deadline=None)
@given(
    st.integers(1, 11),
    st.lists(st.sampled_from([WEST, EAST, SHADOW, SERVES]), min_size=2, max_size=4, unique=True),
    st.sampled_from(["", ", collect between"]),
)
def test_it_is_the_longest_of_the_run(players: int, stations: list[str], between: str) -> None:
    plan = plan_of(text_of(players, stations, between=between))
    for number in range(len(NAMES[:players])):
        assert longest_wait_s(plan, number) == pytest.approx(seen_s(plan, number))
