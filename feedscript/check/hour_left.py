"""What is left of the hour at any place of a lesson: each step of it with its times.

Reckoned as the check reckons the whole (``hour``): a run of the plan's own seed, whose times play,
and design values for what people do.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import msgspec

from feedscript.check.hour import ARM_S, WATCH_S, OwnCollects, collect_s, not_yet
from feedscript.plan.interpreter.actions import Action, PickUp, SendBall, WatchSpeed
from feedscript.plan.interpreter.runs import run_through
from feedscript.plan.model import Exercise, Plan
from feedscript.plan.times import milliseconds


class ByPeople(msgspec.Struct, frozen=True):
    """What people do ``at_s`` into a step, and how long that takes; ``arms``: a launcher is armed
    again behind it."""

    at_s: float
    takes_s: float
    arms: bool


class StepTime(msgspec.Struct, frozen=True, kw_only=True):
    """One step of the lesson: how long it plays, what people do in it, and what of an exercise's
    planned minutes that does not fill. ``title`` is "" where it is no exercise."""

    title: str
    play_s: float
    by_people: tuple[ByPeople, ...]
    spare_s: float

    @property
    def whole_s(self) -> float:
        return self.play_s + self.left_by_people_s(0.0, and_now=True) + self.spare_s

    def left_by_people_s(self, at_s: float, *, and_now: bool) -> float:
        """What people still do from so long into the step on."""
        return sum(
            one.takes_s + (ARM_S if one.arms else 0.0)
            for one in self.by_people
            if one.at_s > at_s + 1e-6 or (and_now and one.at_s >= at_s - 1e-6)
        )


class Steps(msgspec.Struct, frozen=True):
    """Every step of a lesson, and the balls that are picked up behind the last."""

    steps: tuple[StepTime, ...]
    tidied_s: float


def times_of(plan: Plan, own: OwnCollects | None = None) -> Steps:
    """The steps of a lesson with their times; collecting as the coach's own collects took."""
    share = own.share if own is not None else 1.0
    inside: list[list[Action]] = [[] for _ in plan.steps]
    at = 0

    def at_step(step: int) -> None:
        nonlocal at
        at = step

    for action in run_through(plan, not_yet, at_step=at_step):
        inside[at].append(action)
    begins_s = [*_begins_s(inside), plan.bounds.time_s[1]]
    steps, lying = [], 0
    for number, actions in enumerate(inside):
        people, lying = _by_people(plan, actions, begins_s[number], lying, share)
        play_s = max(0.0, begins_s[number + 1] - begins_s[number])
        steps.append(_step(plan, number, play_s, people))
    return Steps(tuple(steps), share * collect_s(plan, lying))


def _begins_s(inside: Sequence[Sequence[Action]]) -> Iterator[float]:
    """When each step begins: where its first action does, or with the step before it."""
    begins_s = 0.0
    for actions in inside:
        if actions:
            first = actions[0]
            after_s = first.after_s if isinstance(first, SendBall) else 0.0
            begins_s = max(begins_s, milliseconds(first.at_s - after_s) / 1000.0)
        yield begins_s


def _by_people(
    plan: Plan, actions: Sequence[Action], begins_s: float, lying: int, share: float
) -> tuple[list[ByPeople], int]:
    """What people do in a step, and the balls that lie about behind it."""
    found = []
    for action in actions:
        at_s = max(0.0, action.at_s - begins_s)
        if isinstance(action, WatchSpeed):
            found.append(ByPeople(at_s, WATCH_S, False))
        elif isinstance(action, PickUp):
            takes_s = max(0.0, share * collect_s(plan, lying) - (action.break_s or 0.0))
            found.append(ByPeople(at_s, takes_s, True))
            lying = 0
        lying += isinstance(action, SendBall | WatchSpeed)
    return found, lying


def _step(plan: Plan, number: int, play_s: float, people: list[ByPeople]) -> StepTime:
    step = plan.steps[number]
    title = step.title if isinstance(step, Exercise) else ""
    meant_s = (step.planned_s or 0.0) if isinstance(step, Exercise) else 0.0
    bare = StepTime(title=title, play_s=play_s, by_people=tuple(people), spare_s=0.0)
    return msgspec.structs.replace(bare, spare_s=max(0.0, meant_s - bare.whole_s))
