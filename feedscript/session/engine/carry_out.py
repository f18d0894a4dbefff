"""What a person commands, done: each command checked against the table, then carried out."""

from __future__ import annotations

from collections.abc import Awaitable, Callable
from typing import Any

import anyio

from feedscript.diagnostics import Diagnostic, Page
from feedscript.launcher.port import LauncherError, Outcome, StopCategory
from feedscript.plan.interpreter.actions import Jump, WatchSpeed
from feedscript.session.engine.guards import at_pace
from feedscript.session.engine.launcher_handle import LauncherHandle
from feedscript.session.engine.lesson import Lesson
from feedscript.session.engine.plan_cursor import MAIN
from feedscript.session.group.group_change import change_roster
from feedscript.session.operator.commands import (
    Answer,
    ChangeRoster,
    Command,
    Confirm,
    EnterCode,
    MarkLanding,
    PlayedTone,
    RecordResult,
    SimpleCommand,
    UndoResult,
)
from feedscript.session.operator.phases import ENDED, NOT_NOW, Act, Phase, allowed, follow

AT_THE_LIMIT = Page(
    slug="at-the-limit",
    title="No slower or faster pace is certified",
    why=(
        "The pace of a lesson may be changed only to one at which the whole plan was checked "
        "again and passed: no gap shorter than the launcher and the rules need."
    ),
)

#: Seconds that a second of the plan may be made to take. 1 is as written. Design values.
PACES = (0.8, 0.9, 1.0, 1.15, 1.3, 1.5)

_JUMPS = {Act.NEXT: Jump.NEXT, Act.AGAIN: Jump.AGAIN, Act.SKIP: Jump.SKIP}
#: A launcher that does not acknowledge a stop in this time is left to its own watchdog.
STOP_PATIENCE_S = 2.0
#: A page may say that the sync tone is still on its way out of the loudspeaker, by at most this
#: (wireless loudspeakers are late by some tenths of a second). Design value.
TONE_AHEAD_S = 2.0


async def do(lesson: Lesson, command: Command, by: str) -> Diagnostic | None:
    """Carry out a command; the diagnostic that refuses it."""
    if isinstance(command, SimpleCommand) and command.act in (Act.STOP, Act.EMERGENCY_STOP):
        return await stop(lesson, command.act, by)
    return await _DOERS[type(command)](lesson, command, by)


async def stop(lesson: Lesson, act: Act, by: str) -> Diagnostic | None:
    """Stop every launcher, before anything else is written, told or settled."""
    ended = lesson.phase in ENDED
    category = StopCategory.POWER_OFF if act is Act.EMERGENCY_STOP else StopCategory.RUN_DOWN
    async with anyio.create_task_group() as tasks:
        for launcher in lesson.launchers:
            if launcher.linked:
                tasks.start_soon(_stop_one, lesson, launcher, category)
        # The lesson leaves its phase in the same breath, so that nothing more is queued.
        refused = lesson.act(act, by)
    lesson.touch()
    return refused if ended else None


async def _stop_one(lesson: Lesson, launcher: LauncherHandle, category: StopCategory) -> None:
    with anyio.CancelScope(shield=True), anyio.move_on_after(STOP_PATIENCE_S):
        try:
            await launcher.stop(category)
        except LauncherError as failed:
            lesson.trouble(failed.diagnostic)


async def _act(lesson: Lesson, command: SimpleCommand, by: str) -> Diagnostic | None:
    act = command.act
    if act in (Act.CONFIRM, Act.ANSWER):
        return NOT_NOW.report(
            f"{act.value!r} needs to say what about", help="confirm a step, or answer for a ball"
        )
    if act in (Act.SLOWER, Act.FASTER):
        return await _change_pace(lesson, act, by)
    if act is Act.QUIT:
        return _quit(lesson, by)
    refused = _still_powered(lesson) if act is Act.SET_UP_AGAIN else None
    refused = refused or lesson.act(act, by)
    if refused is not None:
        return refused
    if act in _JUMPS:
        lesson.jumps.append(_JUMPS[act])
        lesson.touch()
    elif act is Act.SEEN:
        _speed_was_seen(lesson)
    elif act is Act.COLLECTED:
        lesson.decide(MAIN, True)
    return None


def _quit(lesson: Lesson, by: str) -> Diagnostic | None:
    """End the lesson; where it has ended already, end the waiting for late taps."""
    refused = None if lesson.phase in ENDED else lesson.act(Act.QUIT, by)
    lesson.goodbye.set()
    lesson.touch()
    return refused


def _still_powered(lesson: Lesson) -> Diagnostic | None:
    """Nobody is sent to set up a launcher that has not said that it stopped."""
    for launcher in lesson.stopping():
        return NOT_NOW.report(
            f"{launcher.name or 'the launcher'} has not said yet that it stopped",
            help="keep away from it; its own emergency stop needs no link",
        )
    return None


def _speed_was_seen(lesson: Lesson) -> None:
    action = lesson.course.action()
    if isinstance(action, WatchSpeed):
        seen_mps = lesson.plan.feeds[action.feed].speed_mps
        before_mps = lesson.shown_mps.get(action.launcher, 0.0)
        lesson.shown_mps[action.launcher] = max(seen_mps, before_mps)
        lesson.decide(MAIN, True)


async def _change_pace(lesson: Lesson, act: Act, by: str) -> Diagnostic | None:
    """The next pace that way at which the whole plan passes the rules."""
    now = lesson.timeline.pace
    slower = act is Act.SLOWER
    for pace in PACES if slower else reversed(PACES):
        beyond = pace > now if slower else pace < now
        if beyond and act in allowed(lesson.phase) and await _passes(lesson, pace):
            refused = lesson.act(act, by)
            if refused is None:
                lesson.change_pace(pace)
            return refused
    return _why_not(lesson, act)


def _why_not(lesson: Lesson, act: Act) -> Diagnostic:
    """Why the pace is not changed: not now, or never."""
    refused = follow(lesson.phase, act)
    if isinstance(refused, Diagnostic):
        return refused
    return AT_THE_LIMIT.report(
        f"no pace {act.value} than this is certified", help="change the program's gaps"
    )


async def _passes(lesson: Lesson, pace: float) -> bool:
    if pace not in lesson.paces:
        profiles = [launcher.profile for launcher in lesson.launchers]
        plan = at_pace(lesson.plan, pace)
        lesson.paces[pace] = not await lesson.aside(lesson.fences.would_pass, plan, profiles)
    return lesson.paces[pace]


async def _confirm(lesson: Lesson, command: Confirm, by: str) -> Diagnostic | None:
    refused = lesson.act(Act.CONFIRM, by)
    if refused is not None:
        return refused
    if command.key not in {item.key for item in lesson.set_up}:
        return NOT_NOW.report(
            f"{command.key!r} is no step of the set-up", help="confirm a step that is listed"
        )
    lesson.confirmed.add(command.key)
    lesson.note("confirmed", {"key": command.key, "by": by})
    lesson.touch()
    return None


async def _answer(lesson: Lesson, command: Answer, by: str) -> Diagnostic | None:
    for launcher in lesson.launchers:
        for ball in launcher.unknown():
            if ball.feed_id == command.feed_id:
                refused = lesson.act(Act.ANSWER, by)
                if refused is None:
                    outcome = Outcome.LEFT if command.left else Outcome.NOT_SENT
                    launcher.settle(ball.feed_id, outcome, None, f"a person said so ({by})")
                return refused
    return NOT_NOW.report(
        f"ball {command.feed_id} is not in question", help="answer for a ball that is asked about"
    )


async def _record_result(lesson: Lesson, command: RecordResult, by: str) -> Diagnostic | None:
    tapped_s = anyio.current_time() - min(max(command.ago_s, 0.0), 10.0)
    record = lesson.recording.take_down(command.result, command.feed_id, tapped_s)
    if isinstance(record, Diagnostic):
        return record
    lesson.write_record(record)
    lesson.touch()
    return None


async def _mark_landing(lesson: Lesson, command: MarkLanding, by: str) -> Diagnostic | None:
    record = lesson.recording.mark_landing(command.landing_m, command.feed_id)
    if isinstance(record, Diagnostic):
        return record
    lesson.write_record(record)
    lesson.touch()
    return None


async def _undo_result(lesson: Lesson, command: UndoResult, by: str) -> Diagnostic | None:
    record = lesson.recording.take_back()
    if isinstance(record, Diagnostic):
        return record
    feed_id = record.ball.feed_id
    lesson.journal_queue.later(lambda: lesson.journal.take_back(lesson.session_id, feed_id))
    lesson.touch()
    return None


async def _enter_code(lesson: Lesson, command: EnterCode, by: str) -> Diagnostic | None:
    if lesson.phase is not Phase.ARMING or not 0 <= command.launcher < len(lesson.launchers):
        return NOT_NOW.report(
            "no launcher waits for a code", help="give it while a launcher waits to be armed"
        )
    try:
        await lesson.launchers[command.launcher].port.arming_code(command.code)
    except LauncherError as refused:
        return refused.diagnostic
    return None


async def _tone(lesson: Lesson, command: PlayedTone, by: str) -> Diagnostic | None:
    utc_s = lesson.now_utc_s() - min(max(command.ago_s, -TONE_AHEAD_S), 10.0)
    lesson.note_at(utc_s, "sync-tone", {"by": by})
    return None


_DOERS: dict[type[Any], Callable[[Lesson, Any, str], Awaitable[Diagnostic | None]]] = {
    SimpleCommand: _act,
    Confirm: _confirm,
    Answer: _answer,
    RecordResult: _record_result,
    MarkLanding: _mark_landing,
    UndoResult: _undo_result,
    ChangeRoster: change_roster,
    EnterCode: _enter_code,
    PlayedTone: _tone,
}
