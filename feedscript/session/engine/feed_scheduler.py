"""One ball on its way to a launcher: when, under which number, journaled first, settled after."""

from __future__ import annotations

import anyio

from feedscript.diagnostics import FeedscriptError, Page
from feedscript.launcher.change import change_s
from feedscript.launcher.port import CommandRefusedError, LauncherError, Outcome, ScheduledFeed
from feedscript.launcher.setting import Setting
from feedscript.plan.interpreter.actions import At, SendBall, WatchSpeed
from feedscript.plan.model import Plan
from feedscript.safety.rules import faster_than_shown, least_interval
from feedscript.session.engine.by_hand.in_time import (
    asked_in_time,
    is_in_time,
    leaves_in_time,
    over,
)
from feedscript.session.engine.by_hand.on_request import asked_for
from feedscript.session.engine.guards import NOT_CERTIFIED
from feedscript.session.engine.in_the_air import clear_s
from feedscript.session.engine.launcher_handle import Ball, LauncherHandle
from feedscript.session.engine.live_run import LiveRun
from feedscript.session.operator.phases import Happening
from feedscript.session.state.apply_balls import AHEAD
from feedscript.session.state.events import FeedRequested
from feedscript.session.state.exercises import go_on_now
from feedscript.tongues.text import _

NOT_SHOWN = Page(
    slug="not-shown",
    title="A feed whose speed nobody has watched",
    why=(
        "Before anyone plays a feed, one ball of nearly its speed was watched from the side. A "
        "jump to the next series may pass over the ball that should have shown it; the lesson then "
        "holds before the first faster feed."
    ),
)

#: Why a ball did not leave whose intent was written when the lesson left the phase.
NEVER_ASKED_FOR = "the launcher was never asked for it"
#: A ball is queued no nearer to its moment than this, beside what the launcher needs to move: for
#: the way of the line, one repeat of it and the gate. Design value.
LEAD_S = 0.5
#: And no further ahead than this, so that little has to be taken back. Design value.
HORIZON_S = 60.0
#: A ball of which nothing was heard for so long after its moment is asked about: longer than the
#: time in which a launcher itself finds a jam (1.5 s by the wire's contract).
UNHEARD_S = 3.0


def ready_s(plan: Plan, launcher: LauncherHandle, setting: Setting, now_s: float) -> float:
    """The earliest moment of the lesson at which the launcher can send from this setting.

    It begins to move when the ball before has left, or, with nothing queued, when it is told: then
    from wherever it is, between the last ball's setting and those of balls taken back. The checker
    proved the gap of every pair that the plan has; a person's jump makes other pairs, and each of
    them is held here against what the launcher needs and the program's least interval.
    """
    before, last_s = launcher.last_setting, launcher.last_lesson_s
    ready_s = [
        max(now_s, last_s) + need_s(launcher, on_its_way, setting)
        for on_its_way in launcher.flushed
    ]
    if before is None:
        return max([*ready_s, now_s + need_s(launcher, None, setting)]) + LEAD_S
    waits = not launcher.balls and (before != setting or bool(launcher.flushed))
    begins_s = max(now_s, last_s) if waits else last_s
    ready_s.append(begins_s + need_s(launcher, before, setting))
    return max(*ready_s, last_s + least_interval_s(plan), now_s + LEAD_S)


def need_s(launcher: LauncherHandle, before: Setting | None, after: Setting) -> float:
    """From a ball at one setting to a ball at another: moving, and being told of it."""
    return change_s(launcher.profile, before, after) + launcher.port.description.asking_s


def least_interval_s(plan: Plan) -> float:
    """What the program asks for between two balls, whatever the launcher needs; 0 if nothing."""
    asked = [r.value for r in plan.requirements if r.rule == least_interval.PAGE.slug]
    return max([least_interval.LIMIT.default, *asked])


async def send(lesson: LiveRun, key: str, action: SendBall) -> At | None:
    """Queue the ball that an action of this lane asks for, at its moment or as soon as can be.

    Of a ball on request whose time is counted comes back when it leaves, or that none does.
    """
    launcher = lesson.launchers[action.launcher]
    place = (key, lesson.course.number(key))
    if is_in_time(action):
        if not await asked_in_time(lesson, place, action):
            return over(action)
    elif action.request is not None:
        await asked_for(lesson, place)
    depth = min(AHEAD, launcher.port.description.queue_depth)
    await launcher.room(depth)
    horizon = min(HORIZON_S, launcher.port.description.horizon_s - 1.0)
    await until(lesson, action.at_s, early_s=horizon)
    now_s = lesson.timeline.from_host(anyio.current_time())
    setting = lesson.plan.feeds[action.feed].setting
    soonest_s = max(
        ready_s(lesson.plan, launcher, setting, now_s),
        clear_s(lesson, action),
        lesson.on_court_s.get(key, 0.0),
    )
    asked: At | None = None
    if is_in_time(action):
        leave_s = max(lesson.timeline.at(action.at_s), soonest_s)
        asked = leaves_in_time(lesson, action, leave_s)
        if asked is None:
            return over(action)
    else:
        leave_s = lesson.timeline.put_off(action.at_s, soonest_s)
    await lesson.unless_moved_on()
    if not _was_shown(lesson, action):
        why = NOT_SHOWN.report(
            _(
                "{feed!r} is faster than any ball that was watched",
                feed=lesson.plan.feeds[action.feed].name,
            ),
            help=_("say again to come back to the ball that shows it, or stop"),
        )
        lesson.trouble(why)
        lesson.happen(Happening.TOO_MANY_MISSED, why)
        await anyio.sleep_forever()
    await queue_ball(lesson, key, action, leave_s, None if asked is None else asked.at_s)
    return asked


def _was_shown(lesson: LiveRun, action: SendBall) -> bool:
    """Whether a ball of this launcher was watched that was fast enough for this feed.

    The checker proves it for every run of the plan; a person's jump may pass over a shown ball.
    """
    shown_mps = lesson.state.shown_mps.get(action.launcher, 0.0)
    asked = [r.value for r in lesson.plan.requirements if r.rule == faster_than_shown.PAGE.slug]
    rise_mps = min([faster_than_shown.LIMIT.default, *asked])
    return 0.0 < shown_mps >= lesson.plan.feeds[action.feed].speed_mps - rise_mps


async def until(lesson: LiveRun, plan_s: float, early_s: float = 0.0) -> None:
    """Return at a moment of the plan (or so much before), also when it is put off meanwhile."""
    while True:
        due_s = lesson.timeline.host_s(lesson.timeline.at(plan_s)) - early_s
        if due_s <= anyio.current_time():
            return
        await anyio.sleep_until(due_s)


async def queue_ball(
    lesson: LiveRun,
    key: str,
    action: SendBall | WatchSpeed,
    leave_s: float,
    at_s: float | None = None,
) -> Ball:
    """Journal the intent, then ask the launcher. Whatever fails, the ball's outcome is settled or
    will be asked about; it is never asked for under another number while that is open."""
    await lesson.unless_moved_on()
    launcher = lesson.launchers[action.launcher]
    ball = _ball(lesson, key, action, leave_s)
    if not lesson.fences.covers(lesson.plan, action.launcher, ball.setting):
        raise FeedscriptError(
            NOT_CERTIFIED.report(
                _(
                    "the setting of {feed!r} is not in the certificate",
                    feed=lesson.plan.feeds[action.feed].name,
                ),
                help=_("keep the plan and the journal and report this; it is a fault of ours"),
            )
        )
    await _intend(lesson, launcher, ball, at_s)
    feed = ScheduledFeed(
        feed_id=ball.feed_id, setting=ball.setting, leave_at_device_s=ball.device_s
    )
    try:
        await launcher.port.schedule(feed)
    except CommandRefusedError as refused:
        launcher.settle(ball.feed_id, Outcome.NOT_SENT, None, refused.diagnostic.slug)
    except LauncherError:
        await _ask_about(lesson, launcher, ball)
    return ball


async def _intend(
    lesson: LiveRun, launcher: LauncherHandle, ball: Ball, at_s: float | None
) -> None:
    """Return when the intent is on the disk. A ball for which it does not come to that (a stop
    came first, or the disk refused) was asked of no launcher, and so it did not leave."""
    lesson.log(_request(lesson, ball, at_s))
    launcher.queued(ball)
    written = False
    try:
        await lesson.journal_queue.written()
        written = True
    finally:
        if not written:
            launcher.settle(ball.feed_id, Outcome.NOT_SENT, None, NEVER_ASKED_FOR)
    lesson.touch()


def _ball(lesson: LiveRun, key: str, action: SendBall | WatchSpeed, leave_s: float) -> Ball:
    player = action.player if isinstance(action, SendBall) else None
    return Ball(
        feed_id=lesson.state.next_feed_id,
        action=action,
        place=(key, lesson.course.number(key)),
        setting=lesson.plan.feeds[action.feed].setting,
        lesson_s=leave_s,
        device_s=lesson.timeline.device_s(action.launcher, leave_s),
        host_s=lesson.timeline.host_s(leave_s),
        player=lesson.roster.name(player),
        go=go_on_now(lesson.course),
    )


def _request(lesson: LiveRun, ball: Ball, at_s: float | None) -> FeedRequested:
    feed = lesson.plan.feeds[ball.action.feed]
    return FeedRequested(
        feed_id=ball.feed_id,
        ball_no=ball.action.ball,
        launcher=ball.action.launcher,
        feed=feed.wish or feed.name,
        feed_index=ball.action.feed,
        player=ball.player,
        station=ball.action.station,
        lane=ball.place[0],
        number=ball.place[1],
        shown=isinstance(ball.action, WatchSpeed),
        leave_at_device_s=ball.device_s,
        leave_utc_s=lesson.wall.utc(ball.host_s),
        exercise=ball.go.exercise,
        play=ball.go.play,
        at_s=at_s,
    )


async def _ask_about(lesson: LiveRun, launcher: LauncherHandle, ball: Ball) -> None:
    """The command's effect is open: the launcher's memory says, and settles, what became of it.

    A ball it leaves out is queued after all.
    """
    for fate in await launcher.port.history(ball.feed_id - 1, ball.feed_id):
        launcher.settle(fate.feed_id, fate.outcome, fate.device_s, fate.reason)
    if launcher.unknown():
        lesson.happen(Happening.OUTCOME_UNKNOWN)


async def mind(lesson: LiveRun, ball: Ball) -> None:
    """Wait for a ball's outcome; when none is heard in time the lesson regroups and asks."""
    due_s = ball.host_s + UNHEARD_S
    with anyio.move_on_after(max(0.0, due_s - anyio.current_time())):
        await ball.settled.wait()
        return
    lesson.happen(Happening.BALL_MISSED)
