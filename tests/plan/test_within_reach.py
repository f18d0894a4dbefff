"""Goals and games that the balls of their exercise can never meet are errors; others are none."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from msgspec.structs import replace

from feedscript.check.check_program import check_program
from feedscript.plan.interpreter.actions import Action, Ask, Reply, SendBall, WatchSpeed
from feedscript.plan.interpreter.runs import run_through
from feedscript.plan.model import Exercise
from feedscript.plan.within_reach import balls_of_each
from tests.plan.random_plans import exercises

HEAD = """feedscript 1
court { lines singles  surface hard }
balls { type 2  load 70 }
launcher { profile "garage.toml"  stands 1 m behind centre mark }
group { players "Ana", "Ben" }
feed deep { land 3 m inside baseline, on centre line  speed 66 km/h  spin top 900 rpm }
"""


def found(head: str, body: str) -> list[str]:
    text = f'{HEAD}lesson {{ show speed of deep\nexercise "E" {{ {head} {body} }} }}\n'
    verdict = check_program(Path("lesson.feed"), text=text)
    return [f"{one.slug}: {one.message}; {one.help}" for one in verdict.diagnostics if one.is_error]


def each(balls: int) -> str:
    return f"for each player {{ repeat {balls} {{ send deep after 5 s }}  rest 12 s }}"


@pytest.mark.parametrize(
    ("head", "balls", "mend"),
    [
        ("goal 7 of 10 in", 9, "goal 6 of 9 in"),
        ("goal 5 in a row", 4, "goal 4 in a row"),
        ("goal 5 in", 4, "goal 4 in"),
        ("goal 70 % in of last 10", 9, "goal 70 % in of last 9"),
    ],
)
def test_what_can_never_be_met_is_an_error_and_its_mend_passes(head, balls, mend) -> None:
    (one,) = found(head, each(balls))
    assert one.startswith("goal-out-of-reach")
    assert f"`{mend}" in one
    assert found(head, each(balls + 1)) == []
    assert found(mend, each(balls)) == []


@pytest.mark.parametrize(
    "score", ["{ in: 2 }", "in pairs { in: 1 }", "{ in: 1  error: launcher 2 }"]
)
def test_a_game_that_can_never_be_won_is_an_error_and_its_mend_passes(score: str) -> None:
    (one,) = found(f"score to 11 {score}", each(5))
    assert one.startswith("goal-out-of-reach")
    assert "`score to 10`" in one
    assert found(f"score to 10 {score}", each(5)) == []


def test_a_goal_is_judged_for_whoever_gets_fewest_of_those_who_get_any() -> None:
    apart = (
        'for "Ana" { repeat 9 { send deep after 5 s }  rest 12 s } '
        'for "Ben" { repeat 6 { send deep after 5 s }  rest 12 s }'
    )
    (one,) = found("goal 5 of 8 in", apart)
    assert "Ben can get at most 6" in one
    alone = 'for "Ana" { repeat 9 { send deep after 5 s }  rest 12 s }'
    assert found("goal 5 of 8 in", alone) == []


def test_balls_that_are_nobodys_count_for_the_group_together() -> None:
    body = "repeat 6 { send deep after 5 s }"
    assert found("goal 4 of 6 in", body) == []
    assert "there are at most 6" in found("goal 4 of 7 in", body)[0]
    assert "send balls in the exercise" in found("goal 4 of 7 in", 'say "x"')[0]


@settings(max_examples=100, suppress_health_check=list(HealthCheck))
@given(exercises(2), st.lists(st.booleans(), max_size=40))
def test_no_run_gives_anybody_more_balls_than_a_goal_is_held_against(whole, answers) -> None:
    """Counted over the actions of a run, whatever is answered."""
    for exercise in whole.steps:
        if not isinstance(exercise, Exercise):
            continue
        alone = replace(whole, steps=(exercise,))
        run = list(run_through(alone, answering(answers)))
        sent = [one.player for one in run if isinstance(one, SendBall)]
        most = balls_of_each(whole, exercise)
        for number, player in enumerate(whole.group.players):
            assert sent.count(number) <= most.get(player.name, 0)
        if "" in most:
            assert len([one for one in run if isinstance(one, SendBall | WatchSpeed)]) <= most[""]


def answering(answers: list[bool]) -> Callable[[Action], Reply]:
    """These answers to what is asked of the record, then yes."""
    replies = iter(answers)
    return lambda one: next(replies, True) if isinstance(one, Ask) else None
