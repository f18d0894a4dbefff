"""What may still come of exercises: as often as each may still be done, those before too."""

from __future__ import annotations

from feedscript.plan.model import Exercise
from feedscript.safety.hazards.balls_to_come import balls_to_come
from tests.plan.small_plans import plan, send

A = Exercise(title="A", repeats=2, body=(send(0, 4.0), send(0, 4.0)), line=1)
B = Exercise(title="B", repeats=0, body=(send(0, 4.0),), line=2)
LESSON = plan(A, B)


def shared(step: int, begun: dict[int, int]) -> float:
    return balls_to_come(LESSON, 2, step, None, begun).shared


def test_an_exercise_may_come_as_often_as_it_has_plays_left() -> None:
    assert shared(0, {}) == 3 * 2 + 1
    assert shared(0, {0: 1}) == 3 * 2 + 1  # the one under way may still be whole
    assert shared(1, {0: 1, 1: 1}) == 2 * 2 + 1
    assert shared(1, {0: 3, 1: 1}) == 1
    assert shared(1, {1: 1}) == 3 * 2 + 1  # the first was passed over
    assert shared(0, {0: 2, 1: 1}) == 2 * 2
