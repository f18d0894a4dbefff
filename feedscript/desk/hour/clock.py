"""A lesson on the clock on the wall: the plan's own times, and between them what people take.

What people take is reckoned as the check reckons it (``feedscript.check.hour``), step by step, so
the end of the last step is the end of the hour that the check speaks of.
"""

from __future__ import annotations

from itertools import accumulate

import msgspec

from feedscript.check.hour import ARM_S, not_yet
from feedscript.check.hour_left import StepTime, times_of
from feedscript.memo import Memo
from feedscript.plan.interpreter.actions import Action, PickUp, WatchSpeed
from feedscript.plan.interpreter.runs import run_through
from feedscript.plan.model import Plan


class Happens(msgspec.Struct, frozen=True):
    """An action and when it comes, from when people come onto the court; ``step``: of the plan."""

    at_s: float
    action: Action
    step: int


class Stands(msgspec.Struct, frozen=True):
    """The launcher is off, or one ball is watched, from when to when."""

    begin_s: float
    end_s: float
    action: PickUp | WatchSpeed


class Clock(msgspec.Struct, frozen=True, kw_only=True):
    """A whole run on the clock. ``begins_s``: of each step, and the end of the last."""

    steps: tuple[StepTime, ...]
    begins_s: tuple[float, ...]
    whole_s: float
    happens: tuple[Happens, ...]
    stands: tuple[Stands, ...]


def clock_of(plan: Plan, memo: Memo) -> Clock:
    """The run of the plan's own seed in which nothing ends early; given up with the ``memo``."""
    times = times_of(plan)
    begins_s = tuple(accumulate((one.whole_s for one in times.steps), initial=ARM_S))
    plays_s = tuple(accumulate((one.play_s for one in times.steps), initial=0.0))
    happens, stands = list[Happens](), list[Stands]()
    step, people = 0, 0

    def at_step(number: int) -> None:
        nonlocal step, people
        memo.go_on()
        step, people = number, 0

    for action in run_through(plan, not_yet, at_step=at_step):
        before = times.steps[step].by_people[:people]
        taken_s = sum(one.takes_s + ARM_S * one.arms for one in before)
        at_s = begins_s[step] + max(0.0, action.at_s - plays_s[step]) + taken_s
        happens.append(Happens(at_s, action, step))
        if isinstance(action, PickUp | WatchSpeed):
            one = times.steps[step].by_people[people]
            people += 1
            own_s = (action.break_s or 0.0) if isinstance(action, PickUp) else 0.0
            end_s = at_s + own_s + one.takes_s + ARM_S * one.arms
            stands.append(Stands(at_s, end_s, action))
    return Clock(
        steps=times.steps,
        begins_s=begins_s,
        whole_s=begins_s[-1] + times.tidied_s,
        happens=tuple(happens),
        stands=tuple(stands),
    )
