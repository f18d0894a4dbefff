"""What can be seen of a lesson: one frozen value, made from its state when it is asked for."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

import anyio

from feedscript.diagnostics import Diagnostic
from feedscript.launcher.port import LauncherState, Outcome
from feedscript.plan.certificate import SetUpItem
from feedscript.plan.interpreter.actions import PickUp, ToStep, WatchSpeed
from feedscript.plan.model import Exercise
from feedscript.safety.changed_group import StillToCome
from feedscript.safety.set_up import PLACE
from feedscript.session.engine.group_change import to_come_for_the_group
from feedscript.session.engine.launcher_handle import Ball, LauncherHandle
from feedscript.session.engine.live_run import LiveRun
from feedscript.session.engine.place import begun_so_far, exercise_here
from feedscript.session.group.records import FlownBall
from feedscript.session.group.rotation import Role
from feedscript.session.group.tally import by_player
from feedscript.session.operator.aims_now import aims_now, has_target
from feedscript.session.operator.controls import Situation, controls_in
from feedscript.session.operator.hour_now import hour_now, near_end
from feedscript.session.operator.phase_words import (
    ALARMS,
    CONFIRMED,
    HOMING,
    LAUNCHER_ALARMS,
    LAUNCHERS,
    NO_LINK,
    PHASES,
    STOPPING,
    PhaseWords,
    arming_words,
    broken_off,
    by_hand,
    by_watchdog,
    hold_ends,
    how_it_ended,
    not_confirmed,
    pause_words,
    speed_asked,
    without_laptop,
    without_link,
)
from feedscript.session.operator.phases import ENDED, STILL, Phase
from feedscript.session.operator.requested import request_now
from feedscript.session.operator.rungs_now import rungs_now
from feedscript.session.operator.standing import last_said, on_court, stations_now, working
from feedscript.session.operator.to_come import to_come_of_each
from feedscript.session.operator.view import (
    TROUBLE_SHOWN_S,
    Asks,
    BallView,
    CountView,
    ExerciseChoice,
    ExerciseView,
    FedBall,
    HourView,
    Landing,
    LauncherView,
    LessonView,
    Offer,
    Place,
    PlayerView,
    Presence,
    Private,
    RequestView,
    SetUpStep,
    Still,
    Trouble,
)
from feedscript.session.state.exercises import led_to, steps_of_exercises
from feedscript.session.state.lanes import MAIN
from feedscript.tongues import terms
from feedscript.tongues.text import _, in_language, joined

#: So many of the last balls are shown.
GONE_SHOWN = 12


def view_of(lesson: LiveRun) -> LessonView:
    """The lesson as it can be seen now."""
    now_s, coming = anyio.current_time(), _coming(lesson)
    names, alone = on_court(lesson), working(lesson)
    places = lesson.roster.places(names, alone)
    stopping, hour = lesson.stopping(), hour_now(lesson)
    asks = _asks(lesson, hour)
    words = STOPPING if stopping else _phase_words(lesson)
    alarm = bool(stopping) or lesson.phase in ALARMS
    totals = _totals(lesson, now_s)
    return LessonView(
        revision=lesson.revision,
        utc_s=lesson.now_utc_s(),
        phase=lesson.phase,
        phase_words=words.name,
        stopping=bool(stopping),
        alarm=alarm,
        controls=asks.controls,
        title=lesson.plan.title,
        rehearsal=lesson.rehearsal,
        waits_for=_waits_for(lesson),
        to_group=words.to_group,
        no_link=_no_link(lesson),
        without_laptop=without_laptop(alone=_stop_alone(lesson.launchers)),
        ended="" if lesson.ending is None else how_it_ended(lesson.phase, lesson.cause),
        set_up=_set_up(lesson),
        launchers=_launchers(lesson),
        **_at_work(lesson, asks, hour),
        balls_left=len(lesson.recording.balls),
        balls_planned=totals.balls,
        lesson_s=_played_s(lesson, now_s),
        planned_s=totals.time_s,
        pace_percent=lesson.timeline.percent(),
        coming=coming,
        gone=tuple(_gone(lesson, b) for b in reversed(lesson.recording.balls[-GONE_SHOWN:])),
        asked_about=asks.asked_about,
        places=tuple(_place(*each) for each in places),
        stations=stations_now(lesson, names, places, alone),
        said=last_said(lesson),
        players=_players(lesson),
        calls=tuple(lesson.calls),
        count_in_s=_count_in(lesson, coming),
        hold_s=_hold_left(lesson, now_s),
        break_s=asks.break_s,
        troubles=tuple(_trouble(lesson, each) for each in lesson.troubles),
        cause=lesson.cause,
        ending=lesson.ending,
        private=_private(lesson, offers=not alarm),
    )


def asks_of(lesson: LiveRun) -> Asks:
    """What it waits for now: a small part of the view, worked out without the rest."""
    return _asks(lesson, hour_now(lesson))


def _asks(lesson: LiveRun, hour: HourView | None) -> Asks:
    request = request_now(lesson)
    asked_about = () if lesson.stopping() else _asked_about(lesson)
    return Asks(
        phase=lesson.phase,
        controls=controls_in(_situation(lesson, asked_about, request, hour)),
        request=request,
        asked_about=asked_about,
        break_s=_break_left(lesson, anyio.current_time()),
    )


def _at_work(lesson: LiveRun, asks: Asks, hour: HourView | None) -> dict[str, Any]:
    """What the group works at, and how its hour stands."""
    return {
        "exercise": _exercise(lesson),
        "exercises": _choices(lesson),
        "aims": aims_now(lesson),
        "request": asks.request,
        "hour": hour,
    }


def _totals(lesson: LiveRun, now_s: float) -> StillToCome:
    """Of the whole lesson: as the plan has it, or, once somebody came or went, what was sent and
    what is still to come for those who are here; never more than was checked."""
    whole = lesson.plan.bounds
    if lesson.roster.by_plan or not lesson.roster.here:
        return StillToCome(whole.balls, whole.time_s)
    to_come, played_s = to_come_for_the_group(lesson), _played_s(lesson, now_s)
    sent = len(lesson.recording.balls) + len(lesson.state.under_way)
    least, most = (min(sent + balls, whole.most_balls) for balls in to_come.balls)
    return StillToCome(
        (least, max(least, most)), (played_s + to_come.time_s[0], played_s + to_come.time_s[1])
    )


def _played_s(lesson: LiveRun, now_s: float) -> float:
    """Since the first ball left; 0 before."""
    first_s = lesson.first_left_host_s
    return 0.0 if first_s is None else now_s - first_s


def _place(player: str, station: str, role: Role) -> Place:
    return Place(player=player, station=station, role=role, hits=role is Role.HITTER)


def _situation(
    lesson: LiveRun,
    asked_about: tuple[BallView, ...],
    request: RequestView | None,
    hour: HourView | None,
) -> Situation:
    undone = (item.key for item in lesson.set_up if item.key not in lesson.confirmed)
    return Situation(
        phase=lesson.phase,
        stopping=bool(lesson.stopping()),
        closed=lesson.ending is not None,
        next_step=next(undone, None),
        asked_about=asked_about[0].feed_id if asked_about else None,
        balls=bool(lesson.recording.balls),
        records=bool(lesson.recording.records),
        exercise=exercise_here(lesson) is not None,
        target=has_target(lesson),
        another=lesson.another,
        measures=lesson.measures,
        on_request=request is not None,
        asked=lesson.state.asked is not None,
        hour=hour is not None,
        near_end=near_end(hour),
        ends_at_hour=lesson.state.ends_at_hour,
        collected=_phase_words(lesson).done or PHASES[Phase.COLLECTING].done,
    )


def _no_link(lesson: LiveRun) -> str:
    if lesson.phase is Phase.CONNECTING or lesson.ending is not None:
        return ""
    lost = [launcher for launcher in lesson.launchers if not launcher.linked]
    return without_link([launcher.name for launcher in lost], alone=_stop_alone(lost))


def _stop_alone(launchers: Sequence[LauncherHandle]) -> bool:
    """Whether each of them stops by itself when it hears nothing."""
    return all(one.port.description.watchdog_s is not None for one in launchers)


def _hold_left(lesson: LiveRun, now_s: float) -> float | None:
    until_s = lesson.held_until_s()
    return None if until_s == math.inf else max(0.0, until_s - now_s)


def _phase_words(lesson: LiveRun) -> PhaseWords:
    action = lesson.course.action()
    if lesson.phase is Phase.COLLECTING and isinstance(action, PickUp):
        return pause_words(action.words, action.break_s)
    if lesson.phase is Phase.ARMING:
        acted = all(one.homing or one.state is LauncherState.ARMED for one in lesson.launchers)
        limits_s = [one.port.description.homing_s for one in lesson.launchers if one.homing]
        return arming_words(limits_s, acted=acted)
    return PHASES[lesson.phase]


def _break_left(lesson: LiveRun, now_s: float) -> float | None:
    action = lesson.course.action()
    if lesson.phase is not Phase.COLLECTING or not isinstance(action, PickUp):
        return None
    if action.break_s is None:
        return None
    if lesson.break_ends_s is not None:
        return max(0.0, lesson.break_ends_s - now_s)
    # Its clock is about to be set; a break that was begun before a stop is no whole one.
    began = lesson.state.break_began
    if began is None or began[0] != (MAIN, lesson.course.number()):
        return action.break_s
    return max(0.0, action.break_s - max(0.0, lesson.wall.utc(now_s) - began[1]))


def _choices(lesson: LiveRun) -> tuple[ExerciseChoice, ...]:
    found, plan, begun = [], lesson.plan, begun_so_far(lesson)
    for number, step in enumerate(steps_of_exercises(plan), 1):
        exercise, way = plan.steps[step], led_to(plan, None, begun, ToStep(step))
        assert isinstance(exercise, Exercise)
        why_not = way if isinstance(way, str) else ""
        found.append(ExerciseChoice(number=number, title=exercise.title, why_not=why_not))
    return tuple(found)


def _exercise(lesson: LiveRun) -> ExerciseView | None:
    """The exercise that is on, or begins when the lesson goes on."""
    here, steps = exercise_here(lesson), steps_of_exercises(lesson.plan)
    if here is None:
        return None
    step = lesson.plan.steps[here]
    assert isinstance(step, Exercise)
    return ExerciseView(
        number=steps.index(here) + 1,
        of=len(steps),
        title=step.title,
        aim=step.aim,
        watch=step.watch,
        easier=step.easier,
        harder=step.harder,
        planned_s=step.planned_s,
        repeats_left=max(0, 1 + step.repeats - begun_so_far(lesson).get(here, 0)),
    )


def _asked_about(lesson: LiveRun) -> tuple[BallView, ...]:
    """Nobody is sent to look for a ball before the launcher is still."""
    return tuple(_under_way(lesson, ball) for a in lesson.launchers for ball in a.unknown())


def _waits_for(lesson: LiveRun) -> str:
    """What a person should do; first, where a launcher never said that it stopped, about that."""
    if stopping := lesson.stopping():
        return by_hand([launcher.name for launcher in stopping])
    silent = [a.name for a in lesson.launchers if _still(lesson, a) is Still.WATCHDOG]
    asked = _asked_for(lesson)
    return joined(" ", [by_watchdog(silent), asked]) if silent else asked


def _asked_for(lesson: LiveRun) -> str:
    """With the number that a speed ball is held against."""
    if lesson.ending is not None:
        return ""
    words = _phase_words(lesson).to_do
    if lesson.phase is Phase.HELD:
        limit_s = min(launcher.port.description.hold_limit_s for launcher in lesson.launchers)
        return joined(" ", [words, hold_ends(limit_s)])
    if lesson.phase is Phase.BROKEN_OFF and lesson.cause:
        return broken_off(lesson.cause)
    action = lesson.course.action()
    if lesson.phase in (Phase.SHOWING, Phase.JUDGING) and isinstance(action, WatchSpeed):
        return speed_asked(lesson.phase, lesson.plan.feeds[action.feed].speed_mps * 3.6)
    return words


def _set_up(lesson: LiveRun) -> tuple[SetUpStep, ...]:
    if lesson.phase is not Phase.SETTING_UP:
        return ()
    return tuple(
        SetUpStep(
            key=item.key,
            words=joined(
                " ", [lesson.step_words.get(item.words, item.words), *_itself(lesson, item)]
            ),
            confirmed=item.key in lesson.confirmed,
        )
        for item in lesson.set_up
    )


def _itself(lesson: LiveRun, item: SetUpItem) -> tuple[str, ...]:
    """With the place of one of several launchers: which of them is reached by the address that was
    given for it. Where their profiles are alike, nothing else tells whether two are crossed."""
    if len(lesson.launchers) < 2 or not item.key.startswith(PLACE):
        return ()
    told = lesson.launchers[int(item.key.removeprefix(PLACE))].port.description
    if not told.serial:  # a described device says nothing of itself
        return ()
    return (_("It says of itself: {name}, number {serial}.", name=told.name, serial=told.serial),)


def _still(lesson: LiveRun, launcher: LauncherHandle) -> Still | None:
    if lesson.phase not in STILL:
        return None
    from_s = launcher.still_from_s(held=lesson.phase is Phase.HELD)
    if from_s == -math.inf:
        return Still.CONFIRMED
    return Still.WATCHDOG if from_s <= anyio.current_time() else Still.NOT_KNOWN


def _state_words(launcher: LauncherHandle, still: Still | None, *, all_confirmed: bool) -> str:
    """What it last said, and how it is known to be still where not all of them have confirmed."""
    words = LAUNCHERS[launcher.state] if launcher.linked else NO_LINK
    if launcher.homing and launcher.linked:
        words = HOMING
    if still is None or all_confirmed:
        return words
    if still is Still.CONFIRMED:
        return joined(", ", [words, CONFIRMED])
    watchdog_s = launcher.port.description.watchdog_s
    return not_confirmed(watchdog_s, over=still is Still.WATCHDOG)


def _launchers(lesson: LiveRun) -> tuple[LauncherView, ...]:
    stills = [_still(lesson, launcher) for launcher in lesson.launchers]
    all_confirmed = all(still is Still.CONFIRMED for still in stills)
    return tuple(
        _launcher(lesson, launcher, still, all_confirmed=all_confirmed)
        for launcher, still in zip(lesson.launchers, stills, strict=True)
    )


def _launcher(
    lesson: LiveRun, launcher: LauncherHandle, still: Still | None, *, all_confirmed: bool
) -> LauncherView:
    placed = lesson.plan.launchers[launcher.index]
    x_m, y_m = placed.mouth_m[:2]
    unconfirmed = still in (Still.WATCHDOG, Still.NOT_KNOWN)
    return LauncherView(
        name=launcher.name,
        state=launcher.state,
        state_words=_state_words(launcher, still, all_confirmed=all_confirmed),
        linked=launcher.linked,
        reason=launcher.reason,
        alarm=unconfirmed or not launcher.linked or launcher.state in LAUNCHER_ALARMS,
        still=still,
        queued=len(launcher.balls),
        hopper_balls=_in_hopper(lesson, launcher, placed.load),
        loaded_balls=placed.load,
        supply_v=None if launcher.gauged is None else launcher.gauged.supply_v,
        battery_balls=launcher.in_battery(),
        wants_code=launcher.state is LauncherState.AWAITING_ARM
        and not launcher.homing
        and "arming-code" in launcher.port.description.capabilities,
        mouth_m=(x_m, y_m),
    )


def _in_hopper(lesson: LiveRun, launcher: LauncherHandle, load: int | None) -> int | None:
    """By the program's count, and no more than the launcher itself counts, if it does."""
    if load is None:
        return launcher.hopper
    since = lesson.recording.balls[lesson.loaded_after :]
    by_program = max(0, load - sum(ball.launcher == launcher.index for ball in since))
    return by_program if launcher.hopper is None else min(by_program, launcher.hopper)


def _coming(lesson: LiveRun) -> tuple[BallView, ...]:
    balls = [b for a in lesson.launchers for b in a.balls.values() if b.outcome is None]
    return tuple(_under_way(lesson, ball) for ball in sorted(balls, key=lambda b: b.lesson_s))


def _under_way(lesson: LiveRun, ball: Ball) -> BallView:
    feed = lesson.plan.feeds[ball.action.feed]
    leaves_s = ball.host_s
    return BallView(
        feed_id=ball.feed_id,
        launcher=ball.action.launcher,
        station=ball.action.station,
        feed=terms.feed_in_words(feed.wish or feed.name),
        player=ball.player,
        landing_m=feed.landing_m,
        speed_mps=feed.speed_mps,
        leaves_utc_s=lesson.wall.utc(leaves_s),
        outcome=ball.outcome,
    )


def _gone(lesson: LiveRun, ball: FlownBall) -> BallView:
    feed = lesson.plan.feeds[ball.feed_index]
    return BallView(
        feed_id=ball.feed_id,
        launcher=ball.launcher,
        station=ball.station,
        feed=terms.feed_in_words(ball.feed),
        player=ball.player,
        landing_m=feed.landing_m,
        speed_mps=feed.speed_mps,
        leaves_utc_s=ball.left_utc_s,
        outcome=Outcome.LEFT,
        result=lesson.recording.result_of(ball.feed_id),
    )


def _players(lesson: LiveRun) -> tuple[PlayerView, ...]:
    fed = [ball.player for ball in lesson.recording.balls]
    to_come = to_come_of_each(lesson)
    return tuple(
        PlayerView(
            name=player.name,
            language=player.language or "",
            left_handed=player.left_handed,
            presence=(presence := _presence(lesson, player.name)),
            may_be=tuple(one for one in Presence if _may_be(presence, one)),
            turns=lesson.roster.turns_of(player.name),
            balls=fed.count(player.name),
            to_come=to_come.get(player.name),
        )
        for player in lesson.roster.players
    )


def _presence(lesson: LiveRun, name: str) -> Presence:
    if name in lesson.roster.here:
        return Presence.HERE
    return Presence.SITS_OUT if lesson.roster.sits_out(name) else Presence.GONE


def _may_be(now: Presence, wanted: Presence) -> bool:
    """Who is gone comes back before sitting out."""
    return not (now is Presence.GONE and wanted is Presence.SITS_OUT)


def _count_in(lesson: LiveRun, coming: tuple[BallView, ...]) -> float | None:
    """Until the first ball of a stretch; None once one has left in it."""
    if lesson.phase is not Phase.RUNNING or not coming or lesson.balls_in_stretch:
        return None
    return max(0.0, coming[0].leaves_utc_s - lesson.now_utc_s())


def _trouble(lesson: LiveRun, diagnostic: Diagnostic) -> Trouble:
    """It is over when the launchers are armed again, or the lesson goes on."""
    at_utc_s = lesson.trouble_utc_s.get(diagnostic.message, 0.0)
    goes_on = lesson.phase in (Phase.RUNNING, Phase.REGROUPING)
    over = goes_on or at_utc_s < lesson.cleared_utc_s
    return Trouble(
        slug=diagnostic.slug,
        message=diagnostic.message,
        help=diagnostic.help,
        utc_s=at_utc_s,
        until_utc_s=at_utc_s + TROUBLE_SHOWN_S if over else None,
    )


def _private(lesson: LiveRun, *, offers: bool) -> Private:
    records = lesson.recording.records
    counts = by_player(records)
    offered = lesson.recording.offer if offers else None
    return Private(
        counts=tuple(
            CountView(
                player=player,
                balls=count.balls,
                by_result=count.by_result,
                share_in=count.share_in,
            )
            for player, count in counts.items()
        ),
        offer=None
        if offered is None
        else Offer(
            number=offered.number,
            player=offered.player,
            noticed=offered.noticed,
            question=in_language(lesson.roster.speaks([offered.player]), offered.question),
        ),
        review=lesson.phase in (Phase.STOPPED, *ENDED) and bool(lesson.recording.balls),
        last_record=_gone(lesson, records[-1].ball) if records else None,
        rungs=rungs_now(lesson),
        fed=_fed(lesson) if lesson.measures else None,
        landings=tuple(
            Landing(feed_id=record.ball.feed_id, landing_m=record.landing_m, result=record.result)
            for record in reversed(records)
            if record.landing_m is not None
        )[:GONE_SHOWN],
    )


def _fed(lesson: LiveRun) -> tuple[FedBall, ...]:
    """Every ball that left, and what was said of where it came down."""
    found, marks = [], lesson.state.marks
    for ball in reversed(lesson.recording.balls):
        feed, mark = lesson.plan.feeds[ball.feed_index], marks.get(ball.feed_id)
        found.append(
            FedBall(
                feed_id=ball.feed_id,
                feed=terms.feed_in_words(ball.feed),
                asked_m=feed.landing_m,
                seen_by=None if mark is None else mark.seen_by,
                landing_m=None if mark is None else mark.landing_m,
            )
        )
    return tuple(found)
