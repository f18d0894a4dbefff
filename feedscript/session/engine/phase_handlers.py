"""What a lesson does in each of its phases.

A handler ends when the phase changes: it is then cancelled where it stands, so each must be such
that it may be. What has to be true of the launchers at the start of a phase, its handler makes true
first.
"""

from __future__ import annotations

import math
from collections.abc import Awaitable, Callable, Coroutine, Sequence
from typing import Any

import anyio
import anyio.lowlevel

from feedscript.launcher.kinematics import drive_names
from feedscript.launcher.port import Description, LauncherError, LauncherState
from feedscript.plan.interpreter.actions import Pause, PickUp, SendBall, WatchSpeed
from feedscript.session.engine.by_hand.in_time import is_in_time, reached_by
from feedscript.session.engine.feed_scheduler import queue_ball, ready_s
from feedscript.session.engine.guards import ceiling, lacking_more, slow_watchdogs, wrong_launchers
from feedscript.session.engine.in_the_air import clear_s
from feedscript.session.engine.jumps import make_jumps
from feedscript.session.engine.launcher_handle import LauncherHandle
from feedscript.session.engine.live_run import LiveRun
from feedscript.session.engine.place import begin_exercise_here, find_place
from feedscript.session.engine.station_runner import follow_plan
from feedscript.session.operator.phase_words import collect_call
from feedscript.session.operator.phases import Happening, Phase
from feedscript.session.operator.view import HOLD_ENDS_SOON_S
from feedscript.session.state.events import GREETING, BreakBegan, LauncherReported
from feedscript.session.state.lanes import MAIN
from feedscript.tongues.text import _

#: From "go on" to the earliest moment anything is due: the gap before a ball counts from there.
START_S = 0.3
#: How often a launcher that cannot be armed yet is looked at again.
LOOK_AGAIN_S = 0.5

PhaseHandler = Callable[[LiveRun], Awaitable[None]]


AtLauncher = Callable[[LauncherHandle], Coroutine[Any, Any, None]]


async def each(lesson: LiveRun, do: AtLauncher) -> None:
    """Do something with all launchers that can be reached, side by side, until one fails."""
    async with anyio.create_task_group() as tasks:
        for launcher in lesson.launchers:
            if launcher.linked:
                tasks.start_soon(do, launcher)


async def each_for_itself(lesson: LiveRun, do: AtLauncher) -> None:
    """The same to its end at every launcher: one that fails keeps no other from its stop."""
    failures: list[LauncherError] = []

    async def try_it(launcher: LauncherHandle) -> None:
        try:
            await do(launcher)
        except LauncherError as failed:
            failures.append(failed)

    await each(lesson, try_it)
    if failures:
        raise ExceptionGroup("some launchers failed", failures)


async def connecting(lesson: LiveRun) -> None:
    """Hold the launchers against the plan, read their clocks and states."""
    said = [a.port.description for a in lesson.launchers]
    _write_down(lesson, said)
    profiles = [a.profile for a in lesson.launchers]
    wrong = wrong_launchers(lesson.plan, said)
    wrong += [*slow_watchdogs(said, profiles), *lacking_more(said, profiles)]
    wrong += await lesson.aside(lesson.fences.refusals, lesson.plan, profiles)
    for diagnostic in wrong:
        lesson.trouble(diagnostic)
    if wrong:
        lesson.happen(Happening.REFUSED, wrong[0])
        return
    await measure_clocks(lesson)
    await each(lesson, LauncherHandle.read_status)
    await each(lesson, LauncherHandle.ask_outcomes)
    unknown = any(a.unknown() for a in lesson.launchers)
    lesson.happen(Happening.CONNECTED)
    if unknown:
        lesson.happen(Happening.OUTCOME_UNKNOWN)


def _write_down(lesson: LiveRun, said: Sequence[Description]) -> None:
    """What each says of itself, for whoever looks after the launchers later."""
    for index, told in enumerate(said):
        greeting = {
            "called": told.name,  # "name" is a player's wherever names are taken out
            "serial": told.serial,
            "protocol": told.protocol,
            "firmware": told.firmware,
            "profile_hash": told.profile_hash,
            "watchdog_s": told.watchdog_s,
        }
        lesson.log(LauncherReported(event=GREETING, launcher=index, said=greeting))


async def measure_clocks(lesson: LiveRun) -> None:
    """New readings of all clocks."""
    lesson.timeline.measured([await a.port.measure_clock() for a in lesson.launchers])


async def setting_up(lesson: LiveRun) -> None:
    """A person confirms each step; nobody arms for what the end of the hour has left out."""
    if lesson.state.ends_at_hour and lesson.course.action() is None:
        lesson.happen(Happening.PLAN_DONE)
        return
    while not all(item.key in lesson.confirmed for item in lesson.set_up):
        await lesson.changed.wait()
    lesson.happen(Happening.SET_UP)


async def arming(lesson: LiveRun) -> None:
    """Ask every launcher to be armed; a person acts at each."""
    find_place(lesson)

    async def arm(launcher: LauncherHandle) -> None:
        await _made_safe(lesson, launcher)
        drives = len(drive_names(launcher.profile.drive))
        await launcher.arm(ceiling(lesson.plan, launcher.index, drives))
        await launcher.wait_until(_armed_or_not)
        if launcher.state is not LauncherState.ARMED:
            lesson.happen(Happening.LAUNCHER_STOPPED)
        launcher.armed_anew()

    await each(lesson, arm)
    action = lesson.course.action()
    if not isinstance(action, WatchSpeed):
        lesson.happen(Happening.ARMED)
    elif action.ball <= lesson.state.done.get(action.launcher, 0):
        lesson.happen(Happening.ARMED_TO_JUDGE)
    else:
        lesson.happen(Happening.ARMED_FOR_SPEED)


_TO_DISARM = (
    LauncherState.AWAITING_ARM,
    LauncherState.ARMED,
    LauncherState.HELD,
    LauncherState.FAULT,
)


def _armed_or_not(launcher: LauncherHandle) -> bool:
    """Armed, or back from waiting because nobody acted."""
    if launcher.state is LauncherState.ARMED:
        return True
    return launcher.state is LauncherState.SAFE and launcher.before is LauncherState.AWAITING_ARM


async def _made_safe(lesson: LiveRun, launcher: LauncherHandle) -> None:
    """Wait until the launcher can be asked to be armed: run down, fault ended, reset.

    One that is armed already is disarmed: whoever armed it did so for something else.
    """
    while True:
        await launcher.read_status()
        lesson.touch()
        if launcher.state is LauncherState.SAFE:
            launcher.before = LauncherState.SAFE  # an earlier wait that nobody ended is over
            return
        if launcher.state in _TO_DISARM:
            try:
                await launcher.disarm()
            except LauncherError as refused:
                launcher.reason = refused.diagnostic.message
        await anyio.sleep(LOOK_AGAIN_S)


async def watching(lesson: LiveRun) -> None:
    """Send the speed ball, and again under a new number if it surely did not leave."""
    action = lesson.course.action()
    assert isinstance(action, WatchSpeed)
    launcher = lesson.launchers[action.launcher]
    while action.ball > lesson.state.done.get(action.launcher, 0):
        now_s = lesson.timeline.from_host(anyio.current_time())
        setting = lesson.plan.feeds[action.feed].setting
        soonest_s = max(ready_s(lesson.plan, launcher, setting, now_s), clear_s(lesson, action))
        ball = await queue_ball(lesson, MAIN, action, soonest_s)
        await ball.settled.wait()
    lesson.happen(Happening.SHOWN)


async def waiting(lesson: LiveRun) -> None:
    """A person says when to go on."""
    await anyio.sleep_forever()


async def regrouping(lesson: LiveRun) -> None:
    """Nothing queued, every outcome known, the place in the plan found anew; then on."""
    await take_back(lesson)
    await lesson.unless_moved_on()
    find_place(lesson)
    make_jumps(lesson)
    begin_exercise_here(lesson)

    async def go_on(launcher: LauncherHandle) -> None:
        if launcher.state is LauncherState.HELD:
            await launcher.go_on()
            await launcher.wait_until(lambda a: a.state is not LauncherState.HELD)

    await each(lesson, go_on)
    lesson.happen(Happening.REGROUPED)


async def take_back(lesson: LiveRun) -> None:
    """Hold every launcher and settle the balls that were queued."""

    async def hold(launcher: LauncherHandle) -> None:
        if launcher.balls or launcher.stop_asked_s is not None:
            await launcher.hold()
            await launcher.wait_until(lambda a: a.state is not LauncherState.ARMED)
            await launcher.ask_outcomes()

    await each_for_itself(lesson, hold)
    if any(a.unknown() for a in lesson.launchers):
        lesson.happen(Happening.OUTCOME_UNKNOWN)
        await anyio.lowlevel.checkpoint()


async def running(lesson: LiveRun) -> None:
    """Follow the plan from where the course stands, from now on."""
    now_s = lesson.timeline.from_host(anyio.current_time())
    lesson.timeline.anchor(_cursor_s(lesson), now_s + START_S)
    await follow_plan(lesson)


def _cursor_s(lesson: LiveRun) -> float:
    """The moment of the plan that is now: the earliest cursor of the lanes under way."""
    keys = lesson.course.stations() or (MAIN,)
    cursors = []
    for key in keys:
        action = lesson.course.action(key)
        if isinstance(action, SendBall) and is_in_time(action):  # its time has gone on
            cursors.append(reached_by(action, lesson.state.reached_s))
        elif isinstance(action, SendBall):
            cursors.append(action.at_s - action.after_s)
        elif isinstance(action, Pause):  # a rest that was broken off is not begun again
            cursors.append(min(max(action.at_s, lesson.state.reached_s), action.until_s))
        elif action is not None:
            cursors.append(action.at_s)
    main = lesson.course.action()
    return min(cursors, default=main.at_s if main else 0.0)


async def held(lesson: LiveRun) -> None:
    """Gates shut, queues empty; a person goes on or stops."""

    async def hold(launcher: LauncherHandle) -> None:
        await launcher.hold()
        await launcher.wait_until(lambda a: a.state is not LauncherState.ARMED)
        await launcher.ask_outcomes()

    await each_for_itself(lesson, hold)
    if any(a.unknown() for a in lesson.launchers):
        lesson.happen(Happening.OUTCOME_UNKNOWN)
    await lesson.unless_moved_on()
    find_place(lesson)
    lesson.touch()
    await _warn_that_it_ends(lesson)


async def _warn_that_it_ends(lesson: LiveRun) -> None:
    """A hold is the launcher's, and bounded: say so before it becomes a stop."""
    left_s = lesson.held_until_s() - anyio.current_time()
    if left_s < math.inf:
        soon_s = min(HOLD_ENDS_SOON_S, left_s / 2)
        await anyio.sleep(left_s - soon_s)
        await lesson.unless_moved_on()
        lesson.call(_("The hold becomes a stop in {seconds:.0f} seconds.", seconds=soon_s))
    await anyio.sleep_forever()


async def making_safe(lesson: LiveRun) -> None:
    """Nobody is called in before every launcher says that it is safe."""
    lesson.break_ends_s = None

    async def disarm(launcher: LauncherHandle) -> None:
        await launcher.disarm()
        await launcher.wait_until(lambda a: a.state is LauncherState.SAFE)

    await each_for_itself(lesson, disarm)
    lesson.happen(Happening.MADE_SAFE)


async def collecting(lesson: LiveRun) -> None:
    """Launchers are safe; a person says when the balls are collected."""
    action = lesson.course.action()
    pause = action if isinstance(action, PickUp) else None
    lesson.call(
        collect_call(
            "" if pause is None else pause.words,
            None if pause is None else pause.break_s,
            several=len(lesson.launchers) > 1,
        )
    )
    if pause is not None and pause.break_s is not None:
        await _take_break(lesson, pause.break_s)
    await anyio.sleep_forever()


async def _take_break(lesson: LiveRun, for_s: float) -> None:
    """Its time runs from the moment at which everything was safe first; a person ends it."""
    place = (MAIN, lesson.course.number())
    began = lesson.state.break_began
    if began is None or began[0] != place:
        began = (place, lesson.now_utc_s())
        lesson.log(BreakBegan(lane=MAIN, number=place[1], utc_s=began[1]))
    gone_s = min(max(0.0, lesson.now_utc_s() - began[1]), for_s)
    lesson.break_ends_s = ends_s = anyio.current_time() + for_s - gone_s
    lesson.touch()
    # Until that very moment: woken a rounding before it, the break would still seem to go on.
    await anyio.sleep_until(ends_s)
    await lesson.unless_moved_on()
    lesson.call(_("The break is over."))


async def stopped(lesson: LiveRun) -> None:
    """Everything is stopped (again, to be sure) and settled; a person may set up again."""

    async def stop(launcher: LauncherHandle) -> None:
        await launcher.stop()
        await launcher.ask_outcomes()
        await launcher.read_status()

    await each_for_itself(lesson, stop)
    if any(a.unknown() for a in lesson.launchers):
        lesson.happen(Happening.OUTCOME_UNKNOWN)
        return
    await lesson.unless_moved_on()
    find_place(lesson)
    lesson.touch()
    await anyio.sleep_forever()


async def asking(lesson: LiveRun) -> None:
    """Stopped, and a person says what became of each ball that nobody knows of."""

    async def stop(launcher: LauncherHandle) -> None:
        await launcher.stop()
        await launcher.ask_outcomes()

    await each_for_itself(lesson, stop)
    while any(a.unknown() for a in lesson.launchers):
        lesson.touch()
        await lesson.changed.wait()
    lesson.happen(Happening.ANSWERED)


async def disarming(lesson: LiveRun) -> None:
    """The plan is done: make every launcher safe."""
    await each_for_itself(lesson, LauncherHandle.disarm)
    lesson.happen(Happening.DISARMED)


HANDLERS: dict[Phase, PhaseHandler] = {
    Phase.CONNECTING: connecting,
    Phase.SETTING_UP: setting_up,
    Phase.ARMING: arming,
    Phase.SHOWING: waiting,
    Phase.WATCHING: watching,
    Phase.JUDGING: waiting,
    Phase.READY: waiting,
    Phase.REGROUPING: regrouping,
    Phase.RUNNING: running,
    Phase.HELD: held,
    Phase.MAKING_SAFE: making_safe,
    Phase.COLLECTING: collecting,
    Phase.ASKING: asking,
    Phase.STOPPED: stopped,
    Phase.DISARMING: disarming,
}
