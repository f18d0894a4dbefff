"""Going from one exercise to another: where a person's wish leads, and why it may not."""

from __future__ import annotations

from feedscript.plan.interpreter.actions import ToStep
from feedscript.plan.model import Exercise, Plan
from feedscript.session.operator.phases import Act
from feedscript.session.state.plan_cursor import Course


def steps_of_exercises(plan: Plan) -> tuple[int, ...]:
    """The index of each exercise among the plan's steps, in their order."""
    return tuple(n for n, step in enumerate(plan.steps) if isinstance(step, Exercise))


def led_to(course: Course, wish: Act | ToStep) -> int | str:
    """The step at which the lesson goes on; or in words why it does not go there."""
    steps, here = course.plan.steps, course.step
    if isinstance(wish, ToStep):
        return _if_any_left(course, wish.step)
    if not isinstance(steps[here], Exercise):
        return "no exercise is on"
    if wish is Act.EXERCISE_AGAIN:
        return _if_any_left(course, here)
    ahead = range(here + 1, len(steps))
    return next((step for step in ahead if not course.begun.get(step)), len(steps))


def _if_any_left(course: Course, step: int) -> int | str:
    exercise = course.plan.steps[step]
    assert isinstance(exercise, Exercise)
    done = course.begun.get(step, 0)
    if done <= exercise.repeats:
        return step
    often = "once" if done == 1 else f"{done} times"
    return f"“{exercise.title}” was done {often}, and no repeat of it is left"
