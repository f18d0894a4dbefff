"""A coach's week as it is shipped: eight whole lessons, checked, as expected, played to the end."""

from __future__ import annotations

import pytest

from feedscript.check.check_program import Verdict, check_program
from feedscript.plan.model import Exercise
from feedscript.session.rehearsal.rehearse import rehearse
from feedscript.shipped import program_path

#: Each lesson, and how many it is for.
WEEK = {
    "monday-one": 1,
    "tuesday-two": 2,
    "wednesday-six": 6,
    "thursday-three": 3,
    "friday-seven": 7,
    "saturday-eight": 8,
    "sunday-eleven": 11,
    "rainy-hall-five": 5,
}
#: Warnings that a lesson lives with, and says why in its first lines.
EXPLAINED = {"saturday-eight": {"beyond-model"}}
#: The exercise in which no ball is hit.
CAUGHT = "Catch it in front"
#: Those that take seconds to rehearse: many stations side by side.
SLOW = ("friday-seven", "sunday-eleven", "rainy-hall-five", "wednesday-six")


def verdict_of(name: str) -> Verdict:
    verdict = check_program(program_path(name))
    assert verdict.ok, verdict.diagnostics
    return verdict


@pytest.mark.parametrize("name", WEEK)
def test_a_lesson_passes_with_no_warning_that_it_does_not_explain(name: str) -> None:
    verdict = verdict_of(name)
    assert verdict.as_expected, verdict.diagnostics
    assert {one.slug for one in verdict.diagnostics} <= EXPLAINED.get(name, set())
    assert len(verdict.plan.group.players) == WEEK[name]


@pytest.mark.parametrize("name", WEEK)
def test_a_lesson_keeps_to_the_time_that_it_states(name: str) -> None:
    verdict = verdict_of(name)
    planned_s = verdict.plan.planned_s
    assert 45 * 60 <= planned_s <= 90 * 60
    assert 0.9 * planned_s <= verdict.hour.whole_s <= 1.01 * planned_s


@pytest.mark.parametrize("name", WEEK)
def test_all_of_a_lesson_is_exercises_that_say_what_a_coach_wants_to_know(name: str) -> None:
    exercises = [one for one in verdict_of(name).plan.steps if isinstance(one, Exercise)]
    assert len(exercises) >= 3
    for one in exercises:
        assert all((one.aim, one.watch, one.easier, one.harder, one.planned_s)), one.title
        assert one.goals or one.score or one.title == CAUGHT


@pytest.mark.parametrize(
    "name", [pytest.param(n, marks=[pytest.mark.long] if n in SLOW else []) for n in WEEK]
)
def test_a_lesson_is_rehearsed_to_its_end(name: str) -> None:
    verdict = verdict_of(name)
    run = rehearse(verdict.plan, verdict.profiles, name)
    assert run.ending.finished, run.ending.diagnostics
    least, most = verdict.plan.bounds.balls
    assert least <= len(run.balls) <= most
    titles = [one.title for one in verdict.plan.steps if isinstance(one, Exercise)]
    assert [one.text for one in run.said if not one.phase and one.text in titles] == titles
    players = {player.name for player in verdict.plan.group.players}
    assert {ball.player for ball in run.balls if ball.player} == players
