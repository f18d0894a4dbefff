"""A question that no run can answer with yes is told; one that some run can is not."""

from __future__ import annotations

import random

import pytest

from feedscript.language import read
from feedscript.plan.interpreter.actions import Action, Ask, Reply, SendBall
from feedscript.plan.interpreter.conditions import BallResult, answer
from feedscript.plan.interpreter.runs import run_through
from feedscript.plan.model import Plan, Result
from feedscript.plan.never_holds import NEVER_HOLDS, never_holding
from feedscript.plan.places import Places
from tests.plan.programs import compiled
from tests.plan.test_progressions import plan_of
from tests.plan.test_whole_lessons import Maker


@pytest.mark.parametrize(
    ("steps", "message"),
    [
        ("for each player { repeat 6 { send deep after 5 s } when 70 % in of last 10 { say "
         '"Go." } rest 20 s }', "needs 7 balls, and at most 6 balls come"),
        ('for each player { when 1 in { say "Go." } send deep after 5 s rest 20 s }', "needs 1"),
        ('for each player { repeat 6 { send deep after 5 s } when 5 in of easy { say "Go." } '
         "rest 20 s }", "at most 0 balls come"),
        ('for each player { repeat 4 { send deep after 5 s } rest 20 s } '
         'when "Ash" has 5 in { say "Go." }', "4 balls come before it of Ash"),
        ('for "Bay" { repeat 9 { send deep after 5 s } } when "Ash" has 1 in { say "Go." }',
         "0 balls come before it of Ash"),
    ],
)  # fmt: skip
def test_fewer_balls_than_it_needs_is_told_with_the_numbers(steps: str, message: str) -> None:
    plan = plan_of(steps)
    (found,) = never_holding(plan, Places())
    assert found.slug == NEVER_HOLDS.slug
    assert message in found.message


@pytest.mark.parametrize(
    "steps",
    [
        'for each player { repeat 10 { send deep after 5 s } when 70 % in of last 10 { say "Go." } '
        "rest 20 s }",
        'for each player { repeat 3 { send deep after 5 s when 3 in { say "Go." } } rest 20 s }',
        'for each player { send deep after 5 s rest 20 s } when "Ash" has 1 in { say "Go." }',
        'for each player { send deep after 5 s rest 20 s } when 2 in { say "Go." }',
        'for each player { choose { 1: send deep after 5 s 1: rest 5 s } when 1 in { say "Go." } '
        "rest 20 s }",
    ],
)
def test_what_some_run_can_hold_is_left_alone(steps: str) -> None:
    assert never_holding(plan_of(steps), Places()) == ()


def held(plan: Plan) -> set[int]:
    """The lines of the questions that hold where every ball is in."""
    found: set[int] = set()
    for seed in range(6):
        chance = random.Random(seed)
        record: list[BallResult] = []

        def reply(action: Action, chance=chance, record=record) -> Reply:
            if isinstance(action, SendBall):
                record.append(
                    BallResult(action.launcher, action.ball, action.feed, Result.IN, action.player)
                )
            if isinstance(action, Ask):
                if answer(action, record):
                    found.add(action.line)
                return chance.random() < 0.5
            return None

        list(run_through(plan, reply))
    return found


@pytest.mark.parametrize("seed", range(60))
def test_no_question_that_a_run_answers_with_yes_is_told(seed: int) -> None:
    program, _ = read(Maker(random.Random(seed)).program(), "lesson.feed")
    assert program is not None
    result = compiled(program)
    if result.plan is not None:
        told = {one.span.line for one in never_holding(result.plan, result.places) if one.span}
        assert not told & held(result.plan)
