"""The hour's clock: how long it has run, what is still planned, ahead or behind, what could go."""

from __future__ import annotations

from collections.abc import Iterator

import anyio

from feedscript.check.hour import ARM_S
from feedscript.check.hour_left import StepTime
from feedscript.plan.interpreter.actions import Pause, PickUp, StartStations, WatchSpeed
from feedscript.session.engine.live_run import LiveRun
from feedscript.session.operator.phases import ENDED, Phase
from feedscript.session.operator.view import HourView, LeftOut
from feedscript.session.state.plan_cursor import begins_s

#: Up to a minute is on time. Design value: what is reckoned is not surer than that.
ON_TIME_S = 60.0
#: Whoever wants to end at the hour thinks of it near its end. Design value.
NEAR_END_S = 600.0
#: So many ways to end in time are offered.
OFFERED = 3

_GETTING_READY = (Phase.CONNECTING, Phase.SETTING_UP, Phase.ARMING)


def hour_now(lesson: LiveRun) -> HourView | None:
    """The clock of a lesson that has a length; None of one that has none, or has ended."""
    planned_s = lesson.plan.planned_s
    if planned_s is None or lesson.times is None or lesson.ending is not None:
        return None
    run_s = max(0.0, lesson.now_utc_s() - lesson.begun_utc_s)
    left_s = 0.0 if lesson.phase in ENDED else max(0.0, _left_s(lesson))
    behind_s = run_s + left_s - planned_s
    return HourView(
        run_s=run_s,
        planned_s=planned_s,
        left_s=left_s,
        goes_on=lesson.phase is Phase.RUNNING and lesson.waits_for_a_tap() is None,
        on_time_s=ON_TIME_S,
        could_go=_could_go(lesson, behind_s) if behind_s >= ON_TIME_S else (),
        ends_at_hour=lesson.state.ends_at_hour,
    )


def near_end(hour: HourView | None) -> bool:
    """Whether it is of interest that the lesson can be ended at the hour."""
    if hour is None:
        return False
    late = hour.run_s + hour.left_s - hour.planned_s >= ON_TIME_S
    return hour.ends_at_hour or late or hour.planned_s - hour.run_s <= NEAR_END_S


def _left_s(lesson: LiveRun) -> float:
    """What is still planned: of the step under way, of those that come, and the last collect."""
    assert lesson.times is not None
    if lesson.course.action() is None:
        return lesson.times.tidied_s
    pace = lesson.state.pace
    rest = sum(one.whole_s + (pace - 1.0) * one.play_s for _, one in _to_come(lesson))
    return _here_s(lesson, pace) + rest + lesson.times.tidied_s - _waited_s(lesson)


def _to_come(lesson: LiveRun) -> Iterator[tuple[int, StepTime]]:
    """The steps that come after the one under way, by their index."""
    assert lesson.times is not None
    course = lesson.course
    here = course.step if course.going_to is None else course.going_to - 1
    for number, one in enumerate(lesson.times.steps):
        asked = number == course.going_to
        if number > here and (asked or not course.begun.get(number)):
            yield number, one


def _here_s(lesson: LiveRun, pace: float) -> float:
    """What is left of the step under way."""
    assert lesson.times is not None
    course, action = lesson.course, lesson.course.action()
    if course.going_to is not None or not course.begun or not lesson.times.steps:
        return 0.0
    one = lesson.times.steps[course.step]
    at_s = _plan_s(lesson) - course.began_s
    waits = isinstance(action, PickUp | WatchSpeed)
    by_people_s = one.left_by_people_s(at_s, and_now=waits)
    return max(0.0, one.play_s - at_s) * pace + by_people_s + one.spare_s


def _plan_s(lesson: LiveRun) -> float:
    """The moment of the plan that is now."""
    if lesson.phase is Phase.RUNNING:
        return lesson.running_s()
    action = lesson.course.action()
    if action is None:
        return lesson.state.reached_s
    if isinstance(action, Pause | StartStations):
        return min(max(action.at_s, lesson.state.reached_s), action.until_s)
    return begins_s(action)


def _waited_s(lesson: LiveRun) -> float:
    """How much of what people do now is done: of a collect, or (as less than nothing) of arming."""
    gone_s, action = anyio.current_time() - lesson.phase_since_s, lesson.course.action()
    if lesson.phase in _GETTING_READY:
        return min(0.0, gone_s - ARM_S)
    if lesson.phase is not Phase.COLLECTING or not isinstance(action, PickUp):
        return 0.0
    assert lesson.times is not None
    here = lesson.times.steps[lesson.course.step].by_people
    at_s = action.at_s - lesson.course.began_s
    takes = [one.takes_s for one in here if abs(one.at_s - at_s) < 1e-6]
    return min(gone_s, sum(takes) + (action.break_s or 0.0))


def _could_go(lesson: LiveRun, behind_s: float) -> tuple[LeftOut, ...]:
    """Exercises without which the lesson ends in time: each that suffices alone, the last first;
    where none does, so many of the last as are needed."""
    last_first = [one for _, one in _to_come(lesson) if one.title][::-1]
    alone = [LeftOut(titles=(one.title,), saves_s=one.whole_s) for one in last_first]
    enough = [one for one in alone if one.saves_s >= behind_s]
    if enough:
        return tuple(enough[:OFFERED])
    titles: list[str] = []
    saves_s = 0.0
    for one in last_first:
        titles.insert(0, one.title)
        saves_s += one.whole_s
        if saves_s >= behind_s:
            return (LeftOut(titles=tuple(titles), saves_s=saves_s),)
    return ()
