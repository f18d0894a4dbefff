"""Whoever worked on a station's ground walks from there to the receiver's place: time for that is
part of the change-over."""

from __future__ import annotations

from pathlib import Path

import pytest

from feedscript.check.check_program import Verdict, check_program
from feedscript.plan.folds.arrivals import arrivals
from feedscript.plan.model import Together
from feedscript.safety.rules.short_change_over import PAGE, coming_s

PROGRAM = """feedscript 1
court {{ lines doubles  surface hard  side room 4 m }}
balls {{ type 2  load 70 }}
launcher {{ profile "garage.toml"  stands 1 m behind centre mark }}
group {{ players "Ana", "Ben"  level club }}
feed deep {{
    land 3 m inside baseline, on centre line  speed 66 km/h
    receiver 1 m behind baseline, on centre line
}}
{more}
lesson {{
    show speed of deep
    rotate stations every {every} s {{
        station "drives" {{ repeat 5 {{ send deep after 4 s }}  rest 8 s }}
        station "shadow" {ground} {{ work "Split steps." }}
    }}
}}
"""


def checked(ground: str, every: int, more: str = "") -> Verdict:
    text = PROGRAM.format(ground=ground, every=every, more=more)
    return check_program(Path("walk.feed"), text=text)


def refused_for(verdict: Verdict) -> set[str]:
    return {one.slug for one in verdict.diagnostics if one.is_error}


@pytest.mark.parametrize(
    ("ground", "every", "refused"),
    [
        ("at ad run-off", 29, {PAGE.slug}),
        ("at ad run-off", 31, set()),
        ("", 29, set()),  # they wait where the group waits
    ],
)
def test_the_way_from_the_ground_belongs_to_the_change_over(
    ground: str, every: int, refused: set[str]
) -> None:
    assert refused_for(checked(ground, every)) == refused


def test_the_message_says_where_they_come_from() -> None:
    (told,) = [one for one in checked("at ad run-off", 29).diagnostics if one.is_error]
    assert "coming from station shadow" in told.message


def test_only_whoever_was_on_the_ground_walks_from_there() -> None:
    """In the first round nobody has been there yet; in the second the other player has."""
    plan = checked("at ad run-off", 31).plan
    assert plan is not None
    first, second = [step for step in plan.steps if isinstance(step, Together)]
    come = arrivals(plan)
    assert [come.get(id(one)) for one in first.stations] == [None, None]
    assert [come.get(id(one)) for one in second.stations] == [frozenset({"station shadow"}), None]


def test_the_engine_keeps_the_same_time_free_where_the_lesson_is_late() -> None:
    """After a jump or a late answer the first ball of a station waits so long; unless the program
    sets the rule aside."""
    plan = checked("at ad run-off", 31).plan
    assert plan is not None
    assert coming_s(plan)["drives"] == pytest.approx(11.7, abs=0.1)
    waived = checked("at ad run-off", 31, 'allow short-change-over because "they stand ready"').plan
    assert waived is None or coming_s(waived) == {}
