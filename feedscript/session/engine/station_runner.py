"""Following the plan while the lesson runs: one task a lane, each action in its turn.

A lane looks ahead: it queues balls before their moment and answers turns before they begin. When
the lesson leaves the phase of running, every lane is cancelled where it stands; the place is found
again from the balls that really left (see ``regroup`` in ``phase_handlers``).
"""

from __future__ import annotations

from collections.abc import Awaitable, Callable
from functools import partial
from typing import Any, NoReturn

import anyio
import anyio.lowlevel

from feedscript.plan.interpreter.actions import (
    Action,
    Ask,
    BeginExercise,
    EndExercise,
    Jump,
    Pause,
    PickUp,
    Reply,
    SendBall,
    Speak,
    StartStations,
    StepMove,
    TakeTurn,
    WatchSpeed,
)
from feedscript.plan.interpreter.conditions import answer
from feedscript.plan.times import SEEN_AFTER_BOUNCE_S, TAP_S
from feedscript.safety.rules.short_change_over import coming_s, least_anywhere_s
from feedscript.session.engine.by_hand.hour_end import end_of, ended_early, ends_before
from feedscript.session.engine.feed_scheduler import LEAD_S, mind, need_s, send, until
from feedscript.session.engine.group_change import is_for_nobody, with_those_here
from feedscript.session.engine.live_run import Due, LiveRun
from feedscript.session.engine.place import (
    decide,
    due_s,
    exercise_begins,
    exercise_ends,
    speak,
    stations_end,
    step_taken,
    turn_begins,
    when_due,
)
from feedscript.session.operator.phases import Happening
from feedscript.session.state.lanes import MAIN, station_of
from feedscript.session.state.plan_cursor import next_ball


async def follow_plan(lesson: LiveRun) -> None:
    """Follow the main lane, and stations beside it, until something ends the phase."""
    async with anyio.create_task_group() as tasks:
        tasks.start_soon(_speak_when_due, lesson)
        tasks.start_soon(_mind_balls, lesson)
        await _follow(lesson, MAIN)
        await _settled(lesson)
        lesson.happen(Happening.PLAN_DONE)
        await anyio.sleep_forever()


async def _follow(lesson: LiveRun, key: str) -> None:
    """Do one action of a lane after another."""
    while (action := lesson.course.action(key)) is not None:
        if is_for_nobody(lesson, key, action):
            decide(lesson, key, Jump.NEXT)
            continue
        if ends_before(lesson, key, action):
            decide(lesson, key, end_of(lesson))
            continue
        reply = await _FOLLOW[type(action)](lesson, key, action)
        await lesson.unless_moved_on()
        decide(lesson, key, reply)


async def _send(lesson: LiveRun, key: str, action: SendBall) -> Reply:
    return await send(lesson, key, action)


async def _pause(lesson: LiveRun, key: str, action: Pause) -> Reply:
    return None


async def _speak(lesson: LiveRun, key: str, action: Speak) -> Reply:
    place = (key, lesson.course.number(key))
    when_due(lesson, Due(action.at_s, place, partial(speak, lesson, place, action)))
    return None


async def _step(lesson: LiveRun, key: str, action: StepMove) -> Reply:
    place = (key, lesson.course.number(key))
    when_due(lesson, Due(action.at_s, place, partial(step_taken, lesson, place, action)))
    return None


async def _begin_exercise(lesson: LiveRun, key: str, action: BeginExercise) -> Reply:
    place = (key, lesson.course.number(key))
    when_due(lesson, Due(action.at_s, place, partial(exercise_begins, lesson, place, action)))
    return None


async def _end_exercise(lesson: LiveRun, key: str, action: EndExercise) -> Reply:
    place = (key, lesson.course.number(key))
    when_due(lesson, Due(action.at_s, place, partial(exercise_ends, lesson, place, action)))
    return None


async def _take_turn(lesson: LiveRun, key: str, action: TakeTurn) -> Reply:
    """Who is next is called when the change-over begins. The checker proved that there is time
    enough for it; after a jump or a late answer the next ball waits for that time. Whoever is first
    after a pause stands ready when a person says go on.
    """
    await _in_the_plans_order(lesson, key)
    stations = lesson.stations()
    place = (key, lesson.course.number(key))
    reply = lesson.roster.turn(place, action, stations, _live(lesson, stations), _busy(lesson, key))
    player = getattr(reply, "player", None)
    now_s = lesson.timeline.from_host(anyio.current_time())
    called_s = max(lesson.timeline.at(action.called_s), now_s)
    if player is not None and not lesson.state.went_on:
        lesson.on_court_s[key] = called_s + _on_the_way_s(lesson, action)
    begins = partial(turn_begins, lesson, place, action.station, player)
    when_due(lesson, Due(action.called_s, place, begins, called_s))
    return reply


def _on_the_way_s(lesson: LiveRun, action: TakeTurn) -> float:
    """At the pace of the slowest here, as far as it was said of them; whoever is first at a station
    may come from the ground of another."""
    plans = (lesson.plan,) if lesson.roster.by_plan else (lesson.plan, with_those_here(lesson))
    ways_s = [least_anywhere_s(plan) for plan in plans]
    if action.slot == 0:
        ways_s += [lesson.coming_s.get(action.station, 0.0)]
        ways_s += [coming_s(plan).get(action.station, 0.0) for plan in plans[1:]]
    return max(ways_s)


async def _in_the_plans_order(lesson: LiveRun, key: str) -> None:
    """Of stations that come to a turn at the same moment the first in the plan asks first,
    whichever task happens to run first."""
    for other in lesson.course.stations():
        if other == key:
            return
        await anyio.lowlevel.checkpoint()


def _live(lesson: LiveRun, stations: tuple[str, ...]) -> tuple[str, ...]:
    """The stations side by side now that have not come to their end."""
    course = lesson.course
    lanes = [key for key in course.stations() if course.action(key) is not None]
    live = tuple(map(station_of, lanes))
    return tuple(name for name in live if name in stations) or stations


def _busy(lesson: LiveRun, key: str) -> set[str]:
    """Players who have a ball coming in another lane."""
    under_way = [ball for launcher in lesson.launchers for ball in launcher.balls.values()]
    return {ball.player for ball in under_way if ball.player and ball.place[0] != key}


async def _ask(lesson: LiveRun, key: str, action: Ask) -> Reply:
    """Answer as late as the next ball allows, or as soon as every ball is recorded."""
    due_s = _latest_s(lesson, key, action)
    while True:
        wait_s = lesson.timeline.host_s(due_s) - anyio.current_time()
        if wait_s <= 0.0 or _all_recorded(lesson, action):
            names = [player.name for player in lesson.roster.players]
            return answer(action, lesson.recording.judged(names))
        changed = lesson.changed
        with anyio.move_on_after(wait_s):
            await changed.wait()


def _all_recorded(lesson: LiveRun, action: Ask) -> bool:
    if action.condition.player is not None:
        return _all_of_one_recorded(lesson, action)
    known = {
        judged.ball for judged in lesson.recording.judged() if judged.launcher == action.launcher
    }
    return all(ball in known for ball in range(action.first_ball, action.last_ball + 1))


def _all_of_one_recorded(lesson: LiveRun, action: Ask) -> bool:
    """Whether every ball of the player who is asked about has its result, also those to come."""
    name = lesson.roster.name(action.condition.player)
    recorded = {record.ball.feed_id for record in lesson.recording.records}
    if any(ball.player == name for ball in lesson.state.under_way.values()):
        return False
    balls = [ball for ball in lesson.recording.balls if ball.player == name and not ball.shown]
    return all(ball.feed_id in recorded for ball in balls)


def _latest_s(lesson: LiveRun, key: str, action: Ask) -> float:
    """The last moment at which either answer still lets the next ball leave when it shall, and lets
    whoever is on next be called when the change-over begins."""
    queued = {
        launcher.index: max([lesson.state.done.get(launcher.index, 0), *_numbers(launcher)])
        for launcher in lesson.launchers
    }
    due = []
    seen_s = lesson.timeline.at(action.down_s) + SEEN_AFTER_BOUNCE_S + TAP_S
    for reply in (True, False):
        turn, ball = next_ball(lesson.course, key, reply, queued)
        if turn:
            due.append(seen_s)
        if ball is None:
            continue
        launcher = lesson.launchers[ball.launcher]
        setting = lesson.plan.feeds[ball.feed].setting
        before = launcher.last_setting or setting
        notice_s = max(need_s(launcher, before, setting), LEAD_S) + LEAD_S
        answer_s = lesson.timeline.at(ball.at_s) - notice_s
        # Whoever asks for balls asks for them when the last one has been seen.
        due.append(answer_s if ball.request is None else max(answer_s, seen_s))
    return min(due, default=max(seen_s, lesson.timeline.at(action.at_s)))


def _numbers(launcher: Any) -> list[int]:
    return [ball.action.ball for ball in launcher.balls.values()]


async def _pick_up(lesson: LiveRun, key: str, action: PickUp) -> Reply:
    await until(lesson, action.at_s)
    await _settled(lesson)
    lesson.happen(Happening.COLLECT_NEXT)
    return await _until_cancelled()


async def _watch_speed(lesson: LiveRun, key: str, action: WatchSpeed) -> Reply:
    await until(lesson, action.at_s)
    await _settled(lesson)
    lesson.happen(Happening.SPEED_BALL_NEXT)
    return await _until_cancelled()


async def _until_cancelled() -> NoReturn:
    await anyio.sleep_forever()
    raise AssertionError("a sleep without end ends by cancelling only")


async def _fork(lesson: LiveRun, key: str, action: StartStations) -> Reply:
    async with anyio.create_task_group() as tasks:
        for station in lesson.course.stations():
            tasks.start_soon(_follow, lesson, station)
    if ended_early(lesson, lesson.course.stations()):
        stations_end(lesson)
        return end_of(lesson)
    place = (key, lesson.course.number(key))
    ends = partial(stations_end, lesson)
    when_due(lesson, Due(action.until_s, place, ends, stations=action.stations))
    return None


_FOLLOW: dict[type[Action], Callable[[LiveRun, str, Any], Awaitable[Reply]]] = {
    SendBall: _send,
    Pause: _pause,
    Speak: _speak,
    StepMove: _step,
    BeginExercise: _begin_exercise,
    EndExercise: _end_exercise,
    TakeTurn: _take_turn,
    Ask: _ask,
    PickUp: _pick_up,
    WatchSpeed: _watch_speed,
    StartStations: _fork,
}


async def _settled(lesson: LiveRun) -> None:
    """Return when no ball is under way and everything due was said."""
    for launcher in lesson.launchers:
        await launcher.room(1)
    while lesson.due:
        changed = lesson.changed
        await changed.wait()


async def _mind_balls(lesson: LiveRun) -> None:
    """Ask about every ball of which nothing is heard in time."""
    async with anyio.create_task_group() as tasks:
        minded: set[int] = set()
        while True:
            changed = lesson.changed
            for launcher in lesson.launchers:
                for ball in launcher.balls.values():
                    if ball.feed_id not in minded:
                        minded.add(ball.feed_id)
                        tasks.start_soon(mind, lesson, ball)
            await changed.wait()


async def _speak_when_due(lesson: LiveRun) -> None:
    """Do what is due at moments of the plan: calls, changes of turn."""
    while True:
        changed = lesson.changed
        if not lesson.due:
            await changed.wait()
            continue
        due = min(lesson.due, key=partial(due_s, lesson))
        host_s = lesson.timeline.host_s(due_s(lesson, due))
        if host_s > anyio.current_time():
            with anyio.CancelScope(deadline=host_s):
                await changed.wait()
            continue
        await lesson.unless_moved_on()
        lesson.due.remove(due)
        due.what()
        lesson.touch()
