"""What a person commands, done: each command checked against the table, then carried out."""

from __future__ import annotations

from collections.abc import Awaitable, Callable
from typing import Any

import anyio

from feedscript.diagnostics import Diagnostic, Page
from feedscript.launcher.port import GivenUpError, LauncherError, Outcome, StopCategory
from feedscript.plan.interpreter.actions import ToStep, WatchSpeed
from feedscript.plan.model import Result
from feedscript.session.engine.by_hand.hour_end import end_of, ends_before, no_choice
from feedscript.session.engine.by_hand.on_request import ask_for_ball
from feedscript.session.engine.by_hand.rungs import set_rung
from feedscript.session.engine.group_change import (
    change_roster,
    group_as_it_is,
    group_now,
    refused_at,
)
from feedscript.session.engine.guards import at_pace
from feedscript.session.engine.jumps import no_way
from feedscript.session.engine.launcher_handle import LauncherHandle
from feedscript.session.engine.live_run import LiveRun
from feedscript.session.engine.place import begun_so_far, decide, exercise_here
from feedscript.session.group.recording import off_the_picture
from feedscript.session.group.records import NO_TARGET_THERE, FlownBall, ball_by_number
from feedscript.session.operator.commands import (
    Answer,
    ChangeRoster,
    Command,
    Confirm,
    EnterCode,
    MarkFeed,
    MarkLanding,
    PlayedTone,
    RecordResult,
    SeenBy,
    SetRung,
    SimpleCommand,
    ToExercise,
    UndoResult,
)
from feedscript.session.operator.phases import (
    ENDED,
    NOT_NOW,
    TO_EXERCISES,
    Act,
    Phase,
    allowed,
    follow,
)
from feedscript.session.state.events import (
    Confirmed,
    FeedMarked,
    LandingMarked,
    ResultRecorded,
    ResultUndone,
    SpeedSeen,
    TonePlayed,
)
from feedscript.session.state.exercises import led_to, steps_of_exercises
from feedscript.session.state.lanes import MAIN
from feedscript.session.state.shots import in_target, newly_met, target_of
from feedscript.tongues.text import _

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

#: A launcher that does not acknowledge a stop in this time is left to its own watchdog.
STOP_PATIENCE_S = 2.0
#: A page may say that the sync tone is still on its way out of the loudspeaker, by at most this
#: (wireless loudspeakers are late by some tenths of a second). Design value.
TONE_AHEAD_S = 2.0


async def carry_out(lesson: LiveRun, command: Command, by: str) -> Diagnostic | None:
    """Carry out a command; the diagnostic that refuses it."""
    if isinstance(command, SimpleCommand) and command.act in (Act.STOP, Act.EMERGENCY_STOP):
        return await stop(lesson, command.act, by)
    return await _CARRIES_OUT[type(command)](lesson, command, by)


async def stop(lesson: LiveRun, act: Act, by: str) -> Diagnostic | None:
    """Stop every launcher, before anything else is written, told or settled."""
    ended = lesson.phase in ENDED
    category = StopCategory.POWER_OFF if act is Act.EMERGENCY_STOP else StopCategory.RUN_DOWN
    async with anyio.create_task_group() as tasks:
        for launcher in lesson.launchers:
            if launcher.linked:
                tasks.start_soon(stop_one, lesson, launcher, category)
        # The lesson leaves its phase in the same breath, so that nothing more is queued.
        refused = lesson.act(act, by)
    lesson.touch()
    return refused if ended else None


async def stop_one(lesson: LiveRun, launcher: LauncherHandle, category: StopCategory) -> None:
    """Stop it as far as it answers in time; why it did not is shown."""
    with anyio.CancelScope(shield=True), anyio.move_on_after(STOP_PATIENCE_S):
        try:
            await launcher.stop(category)
        except GivenUpError:
            return  # another stop of ours went ahead, and sees to the rest
        except LauncherError as failed:
            lesson.trouble(failed.diagnostic)


async def _act(lesson: LiveRun, command: SimpleCommand, by: str) -> Diagnostic | None:
    act = command.act
    if act in (Act.CONFIRM, Act.ANSWER, Act.TO_EXERCISE):
        return NOT_NOW.report(
            _("{act!r} needs to say what about", act=act.value),
            help=_("confirm a step, answer for a ball, or say which exercise"),
        )
    if act in (Act.SLOWER, Act.FASTER):
        return await _change_pace(lesson, act, by)
    if act is Act.SEND_ONE:
        return ask_for_ball(lesson, by)
    if act in (Act.END_AT_HOUR, Act.PLAY_ON) and (told := no_choice(lesson, act)):
        return NOT_NOW.report(told, help=_("a lesson has an hour that says so: `lesson of 60 min`"))
    if act is Act.QUIT:
        return _quit(lesson, by)
    if act in (Act.SET_UP_AGAIN, Act.COLLECTED) and (powered := _still_powered(lesson)):
        return powered
    refused = _refused(lesson, act)
    if refused is None and act in TO_EXERCISES and (why := _no_way(lesson, act)):
        return why
    if refused is None and act is Act.SEEN:
        _speed_was_seen(lesson)
    elif refused is None and act is Act.COLLECTED:
        decide(lesson, MAIN, True)
        if ends_before(lesson, MAIN, lesson.course.action()):
            decide(lesson, MAIN, end_of(lesson))
    return lesson.act(act, by) or refused


def _no_way(lesson: LiveRun, wish: Act | ToStep) -> Diagnostic | None:
    step = led_to(lesson.plan, exercise_here(lesson), begun_so_far(lesson), wish)
    return no_way(step) if isinstance(step, str) else None


async def _to_exercise(lesson: LiveRun, command: ToExercise, by: str) -> Diagnostic | None:
    """To the exercise of this number, as far as it can still be done."""
    steps = steps_of_exercises(lesson.plan)
    if not 1 <= command.number <= len(steps):
        return NOT_NOW.report(
            _("the lesson has no exercise {n}", n=command.number),
            help=_("it has {n}", n=len(steps)),
        )
    refused = _refused(lesson, Act.TO_EXERCISE)
    if refused is None:
        refused = _no_way(lesson, ToStep(steps[command.number - 1]))
    return refused or lesson.act(Act.TO_EXERCISE, by, command.number)


def _quit(lesson: LiveRun, by: str) -> Diagnostic | None:
    """End the lesson; where it has ended already, end the waiting for late taps."""
    refused = None if lesson.phase in ENDED else lesson.act(Act.QUIT, by)
    lesson.goodbye.set()
    lesson.touch()
    return refused


def _still_powered(lesson: LiveRun) -> Diagnostic | None:
    """Nobody is sent to set up a launcher that has not said that it stopped, whatever screen, or
    tap that came late, asks for it."""
    for launcher in lesson.stopping():
        return NOT_NOW.report(
            _(
                "{launcher} has not said yet that it stopped",
                launcher=launcher.name or _("the launcher"),
            ),
            help=_("keep away from it; its own emergency stop needs no link"),
        )
    return None


def _refused(lesson: LiveRun, act: Act) -> Diagnostic | None:
    """Why the table does not have this act in the present phase; None where it does."""
    after = follow(lesson.phase, act)
    return after if isinstance(after, Diagnostic) else None


def _speed_was_seen(lesson: LiveRun) -> None:
    action = lesson.course.action()
    if isinstance(action, WatchSpeed):
        number = lesson.course.number()
        lesson.log(SpeedSeen(lane=MAIN, number=number, feed=action.feed))
        lesson.course.reply(MAIN, True)


async def _change_pace(lesson: LiveRun, act: Act, by: str) -> Diagnostic | None:
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


def _why_not(lesson: LiveRun, act: Act) -> Diagnostic:
    """Why the pace is not changed: not now, or never."""
    refused = follow(lesson.phase, act)
    if isinstance(refused, Diagnostic):
        return refused
    return AT_THE_LIMIT.report(
        _("no slower pace than this is certified")
        if act is Act.SLOWER
        else _("no faster pace than this is certified"),
        help=_("change the program's gaps"),
    )


async def _passes(lesson: LiveRun, pace: float) -> bool:
    """Whether the whole plan does at this pace, for the group that is here."""
    while (asked := (pace, group_now(lesson))) not in lesson.paces:
        profiles = [launcher.profile for launcher in lesson.launchers]
        plan = at_pace(lesson.plan, pace)
        refused = await lesson.aside(lesson.fences.would_pass, plan, profiles)
        if not refused and not lesson.roster.by_plan:
            refused = await refused_at(lesson, pace, group_as_it_is(lesson))
        lesson.paces[asked] = not refused
    return lesson.paces[asked]


async def _confirm(lesson: LiveRun, command: Confirm, by: str) -> Diagnostic | None:
    refused = _still_powered(lesson) or lesson.act(Act.CONFIRM, by)
    if refused is not None:
        return refused
    if command.key not in {item.key for item in lesson.set_up}:
        return NOT_NOW.report(
            _("{step!r} is no step of the set-up", step=command.key),
            help=_("confirm a step that is listed"),
        )
    lesson.log(Confirmed(key=command.key, by=by))
    return None


async def _answer(lesson: LiveRun, command: Answer, by: str) -> Diagnostic | None:
    for launcher in lesson.launchers:
        for ball in launcher.unknown():
            if ball.feed_id == command.feed_id:
                refused = lesson.act(Act.ANSWER, by)
                if refused is None:
                    outcome = Outcome.LEFT if command.left else Outcome.NOT_SENT
                    launcher.settle(ball.feed_id, outcome, None, f"a person said so ({by})")
                return refused
    return NOT_NOW.report(
        _("ball {n} is not in question", n=command.feed_id),
        help=_("answer for a ball that is asked about"),
    )


async def _record_result(lesson: LiveRun, command: RecordResult, by: str) -> Diagnostic | None:
    tapped_utc_s = lesson.now_utc_s() - min(max(command.ago_s, 0.0), 10.0)
    ball = lesson.recording.tapped(command.feed_id, tapped_utc_s, command.station)
    if isinstance(ball, Diagnostic):
        return ball
    if command.result is Result.TARGET and target_of(lesson.plan, ball) is None:
        return NO_TARGET_THERE.report(
            _("ball {n} is of no exercise with a target", n=ball.feed_id), help=_("tap In instead")
        )
    _record(lesson, ball, command.result, tapped_utc_s)
    return None


def _record(lesson: LiveRun, ball: FlownBall, result: Result, tapped_utc_s: float) -> None:
    """The result of a ball; what it brought about is called."""
    lesson.log(ResultRecorded(feed_id=ball.feed_id, result=result, tapped_utc_s=tapped_utc_s))
    for players, words in newly_met(lesson.plan, lesson.state, lesson.recording, ball.feed_id):
        if lesson.ending is None:
            lesson.call_to(players, words)
    _tapped(lesson, ball.player)


async def _mark_landing(lesson: LiveRun, command: MarkLanding, by: str) -> Diagnostic | None:
    record = lesson.recording.landed(command.landing_m, command.feed_id)
    if isinstance(record, Diagnostic):
        return record
    ball = record.ball
    if record.result is Result.IN and in_target(lesson.plan, lesson.state, ball, command.landing_m):
        _record(lesson, ball, Result.TARGET, record.tapped_utc_s)
    lesson.log(LandingMarked(feed_id=ball.feed_id, landing_m=command.landing_m))
    lesson.taps += 1
    return None


async def _mark_feed(lesson: LiveRun, command: MarkFeed, by: str) -> Diagnostic | None:
    ball = ball_by_number(lesson.recording.balls, command.feed_id)
    if isinstance(ball, Diagnostic):
        return ball
    told = command.seen_by in (SeenBy.EYE, SeenBy.TAPE)
    if not lesson.measures or told is (command.landing_m is None):
        return NOT_NOW.report(
            _("this lesson does not ask where its own balls came down"),
            help=_("`feedscript tune PROFILE --run` does"),
        )
    if command.landing_m is not None:
        off = off_the_picture(command.landing_m)
        if off is not None:
            return off
    lesson.log(
        FeedMarked(feed_id=ball.feed_id, seen_by=command.seen_by, landing_m=command.landing_m)
    )
    lesson.taps += 1
    lesson.touch()
    return None


async def _undo_result(lesson: LiveRun, command: UndoResult, by: str) -> Diagnostic | None:
    record = lesson.recording.newest()
    if isinstance(record, Diagnostic):
        return record
    lesson.log(ResultUndone(feed_id=record.ball.feed_id))
    _tapped(lesson, record.ball.player)
    return None


def _tapped(lesson: LiveRun, player: str | None) -> None:
    """A record was made or undone; the question that is on offer goes with it."""
    lesson.taps += 1
    lesson.offers.notice(lesson.recording.records, player)
    lesson.touch()


async def _enter_code(lesson: LiveRun, command: EnterCode, by: str) -> Diagnostic | None:
    if lesson.phase is not Phase.ARMING or not 0 <= command.launcher < len(lesson.launchers):
        return NOT_NOW.report(
            _("no launcher waits for a code"),
            help=_("give it while a launcher waits to be armed"),
        )
    try:
        await lesson.launchers[command.launcher].port.arming_code(command.code)
    except LauncherError as refused:
        return refused.diagnostic
    return None


async def _tone(lesson: LiveRun, command: PlayedTone, by: str) -> Diagnostic | None:
    utc_s = lesson.now_utc_s() - min(max(command.ago_s, -TONE_AHEAD_S), 10.0)
    lesson.log(TonePlayed(by=by), utc_s)
    return None


_CARRIES_OUT: dict[type[Any], Callable[[LiveRun, Any, str], Awaitable[Diagnostic | None]]] = {
    SimpleCommand: _act,
    ToExercise: _to_exercise,
    SetRung: set_rung,
    Confirm: _confirm,
    Answer: _answer,
    RecordResult: _record_result,
    MarkLanding: _mark_landing,
    MarkFeed: _mark_feed,
    UndoResult: _undo_result,
    ChangeRoster: change_roster,
    EnterCode: _enter_code,
    PlayedTone: _tone,
}
