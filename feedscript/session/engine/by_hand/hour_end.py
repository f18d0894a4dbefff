"""Ending at the hour, where the coach wants that: after the turn in which it is full.

A turn is never cut. The way through the plan is looked at ahead of the court, so what is asked is
when a turn (or whatever comes next) would begin: from the hour's end on nothing new begins.
"""

from __future__ import annotations

import anyio

from feedscript.plan.interpreter.actions import (
    Action,
    Pause,
    PickUp,
    StartStations,
    TakeTurn,
    ToStep,
    WatchSpeed,
)
from feedscript.session.engine.live_run import LiveRun
from feedscript.session.operator.phases import Act, Phase
from feedscript.session.state.lanes import MAIN
from feedscript.tongues.text import _


def no_choice(lesson: LiveRun, act: Act) -> str:
    """Why it cannot be chosen to end at the hour, or to play on; "" where it can."""
    if lesson.plan.planned_s is None:
        return _("no hour was planned for this lesson")
    chosen = lesson.state.ends_at_hour is (act is Act.END_AT_HOUR)
    return _("that is chosen already") if chosen else ""


def end_of(lesson: LiveRun) -> ToStep:
    """Behind the last step."""
    return ToStep(len(lesson.plan.steps))


def ends_before(lesson: LiveRun, key: str, action: Action | None) -> bool:
    """Whether the lesson ends (at a station: what is left there) instead of going on with this."""
    if action is None or not lesson.state.ends_at_hour or not _begins_anew(lesson, key, action):
        return False
    return _begins_host_s(lesson, action) >= full_host_s(lesson)


def ended_early(lesson: LiveRun, lanes: tuple[str, ...]) -> bool:
    """Whether a station ended before its last turn."""
    last = {(key, lesson.course.number(key) - 1) for key in lanes}
    return any(isinstance(lesson.state.decisions.get(place), ToStep) for place in last)


def full_host_s(lesson: LiveRun) -> float:
    """When the hour is full, by the host's clock."""
    return lesson.wall.host(lesson.begun_utc_s + (lesson.plan.planned_s or 0.0))


def _begins_anew(lesson: LiveRun, key: str, action: Action) -> bool:
    """Whether no turn is cut before this action, and it has not begun yet."""
    if (key, lesson.course.number(key)) in lesson.state.decisions:
        return False  # an exercise that was not yet left out when the lesson went on
    if isinstance(action, TakeTurn):
        return True
    if key != MAIN:
        return False
    if lesson.course.first == lesson.course.number() or isinstance(action, StartStations):
        return True
    return lesson.course.turn is None and isinstance(action, Pause | PickUp | WatchSpeed)


def _begins_host_s(lesson: LiveRun, action: Action) -> float:
    now_s = anyio.current_time()
    if lesson.phase is not Phase.RUNNING:
        return now_s
    plan_s = action.called_s if isinstance(action, TakeTurn) else action.at_s
    return max(now_s, lesson.timeline.host_s(lesson.timeline.at(plan_s)))
