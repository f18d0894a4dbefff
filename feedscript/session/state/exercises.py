"""Going from one exercise to another: where a person's wish leads, and why it may not."""

from __future__ import annotations

from collections.abc import Mapping

from feedscript.plan.interpreter.actions import ToStep
from feedscript.plan.model import Exercise, Plan
from feedscript.session.group.records import Go
from feedscript.session.operator.phases import Act
from feedscript.session.state.plan_cursor import Course
from feedscript.tongues.text import _, n_


def steps_of_exercises(plan: Plan) -> tuple[int, ...]:
    """The index of each exercise among the plan's steps, in their order."""
    return tuple(n for n, step in enumerate(plan.steps) if isinstance(step, Exercise))


def exercise_of(plan: Plan, number: int) -> Exercise | None:
    """The exercise of this number, from 1; None for 0."""
    exercises = [step for step in plan.steps if isinstance(step, Exercise)]
    return exercises[number - 1] if 0 < number <= len(exercises) else None


def go_on_now(course: Course) -> Go:
    """The go at an exercise in which the lesson stands."""
    step = course.plan.steps[course.step] if course.plan.steps else None
    if not isinstance(step, Exercise):
        return Go()
    number = steps_of_exercises(course.plan).index(course.step) + 1
    return Go(number, course.begun.get(course.step, 0))


def led_to(plan: Plan, here: int | None, begun: Mapping[int, int], wish: Act | ToStep) -> int | str:
    """The step at which the lesson goes on; or in words why it does not go there.

    ``here`` is the step of the exercise that is on; ``begun`` how often each step was begun.
    """
    if isinstance(wish, ToStep):
        return _if_any_left(plan, wish.step, begun)
    if here is None:
        return _("no exercise is on")
    if wish is Act.EXERCISE_AGAIN:
        return _if_any_left(plan, here, begun)
    ahead = range(here + 1, len(plan.steps))
    return next((step for step in ahead if not begun.get(step)), len(plan.steps))


def _if_any_left(plan: Plan, step: int, begun: Mapping[int, int]) -> int | str:
    exercise = plan.steps[step]
    assert isinstance(exercise, Exercise)
    done = begun.get(step, 0)
    if done <= exercise.repeats:
        return step
    return n_(
        "“{title}” was done once, and no repeat of it is left",
        "“{title}” was done {n} times, and no repeat of it is left",
        done,
        title=exercise.title,
    )
