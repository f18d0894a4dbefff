"""One launcher as it takes part in a lesson: its port, its state, its balls under way."""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Protocol

import anyio
import msgspec

from feedscript.launcher.battery import Draw, balls_left, noted
from feedscript.launcher.faults import fault_words
from feedscript.launcher.port import (
    HOMING,
    Event,
    Fault,
    Gauged,
    LauncherPort,
    LauncherState,
    Left,
    LinkLost,
    NotSent,
    Outcome,
    OutcomeUnknown,
    StateChanged,
    StopCategory,
)
from feedscript.launcher.profile.model import Profile
from feedscript.launcher.setting import Setting
from feedscript.plan.interpreter.actions import SendBall, WatchSpeed
from feedscript.session.group.records import Go

#: A watchdog's time is over by the launcher's clock; ours may run a little faster. Design value.
CLOCKS_DIFFER_S = 0.01


class Ball(msgspec.Struct, kw_only=True, eq=False):
    """One ball that was intended: what it is for, and what became of it."""

    feed_id: int
    action: SendBall | WatchSpeed
    place: tuple[str, int]  # lane and number of the action in the course
    setting: Setting
    lesson_s: float  # when it shall leave
    device_s: float  # the same by the launcher's clock
    host_s: float  # and by the host's
    player: str | None
    go: Go = Go()  # at the exercise in which it stands
    outcome: Outcome | None = None
    settled: anyio.Event = msgspec.field(default_factory=anyio.Event)


class Listener(Protocol):
    """Who hears what a launcher does."""

    def ball_settled(
        self,
        launcher: LauncherHandle,
        ball: Ball,
        outcome: Outcome,
        left_device_s: float | None,
        reason: str,
    ) -> None: ...

    def event_heard(self, launcher: LauncherHandle, event: Event) -> None: ...

    def stop_is_owed(self) -> None: ...

    def acknowledged(self, launcher: LauncherHandle, *, hold: bool) -> None: ...


class LauncherHandle(msgspec.Struct, kw_only=True, eq=False):
    """One launcher of the lesson. ``balls`` holds those whose outcome is not known yet."""

    index: int
    name: str
    port: LauncherPort
    profile: Profile
    listener: Listener
    state: LauncherState = LauncherState.SAFE
    before: LauncherState = LauncherState.SAFE  # the state it came from
    reason: str = ""
    fault: str = ""  # what it found, until it is in another state than fault
    hopper: int | None = None
    gauged: Gauged | None = None  # what it last read of its supply and motors
    draw: Draw = Draw()  # what the balls of this run take from its battery
    balls_left_it: int = 0  # in this run
    supply_journaled_v: float | None = None  # the last voltage that was written down
    linked: bool = True
    stopped: bool = True  # it acknowledged a stop (its opening is one) and was not asked to arm
    holding: bool = False  # it acknowledged a hold and was not asked to go on
    held_from_s: float | None = None  # since when the hold lasts that it is in, at the earliest
    stop_asked_s: float | None = None  # since when it owes the acknowledgement of a stop or hold
    armed_unasked: bool = (
        False  # after such an acknowledgement: the next counts only with its state
    )
    balls: dict[int, Ball] = {}
    last_setting: Setting | None = (
        None  # of the last ball that left or is queued since it was armed
    )
    last_lesson_s: float = 0.0  # when that ball left or shall leave
    flushed: tuple[Setting, ...] = ()  # taken back since then: it may be on its way to one of them
    _left: tuple[Setting | None, float] = (None, 0.0)  # the last ball that left, since it was armed
    highest_feed_id: int = 0
    changed: anyio.Event = msgspec.field(default_factory=anyio.Event)

    async def read_status(self) -> None:
        """What it says of itself now. A fault's name stays until the fault is over."""
        status = await self.port.status()
        if self._is_armed_unasked(status.state):  # as if an event had told of it
            self._take(
                StateChanged(device_s=status.device_s, state=status.state, reason=status.reason)
            )
            self._wake()
        self.state, self.hopper = status.state, status.hopper_balls
        if status.state is not LauncherState.FAULT:
            self.fault = ""
        self.reason = self.fault or status.reason

    @property
    def homing(self) -> bool:
        """A person has acted at it, and its axes look for their places before it is armed."""
        return self.state is LauncherState.AWAITING_ARM and self.reason == HOMING

    # -- stopping, and what undoes it -----------------------------------------------------

    async def arm(self, ceiling: tuple[float, ...]) -> None:
        self._is_moved()
        await self.port.arm(ceiling)

    async def go_on(self) -> None:
        self._is_moved()
        await self.port.go_on()

    def _is_moved(self) -> None:
        """What it acknowledged before counts no more."""
        self.stopped = self.holding = self.armed_unasked = False
        self.stop_asked_s = self.held_from_s = None

    async def stop(self, category: StopCategory = StopCategory.RUN_DOWN) -> None:
        self._owes_a_stop()
        await self.port.stop(category)
        if self.armed_unasked:
            await self.read_status()
            self.armed_unasked = self.state is LauncherState.ARMED
        self._has_stopped()

    async def disarm(self) -> None:
        self._owes_a_stop()
        await self.port.disarm()
        self._has_stopped()

    async def hold(self) -> None:
        self.holding = False
        if self.held_from_s is None:
            self.held_from_s = anyio.current_time()
        self._owes_a_stop()
        await self.port.hold()
        self.holding, self.stop_asked_s = True, None
        self.listener.acknowledged(self, hold=True)
        self._wake()

    def _owes_a_stop(self) -> None:
        if self.stop_asked_s is None and not self.stopped:
            self.stop_asked_s = anyio.current_time()
            self.listener.stop_is_owed()

    def _has_stopped(self) -> None:
        if self.armed_unasked:
            return
        before, self.stopped = self.stopped, True
        self.holding, self.stop_asked_s = False, None
        if not before:
            self.listener.acknowledged(self, hold=False)
        self._wake()

    def _is_armed_unasked(self, state: LauncherState) -> bool:
        return state is LauncherState.ARMED and (self.stopped or self.holding)

    def still_from_s(self, *, held: bool) -> float:
        """From when on (host's clock) no ball leaves it any more until somebody arms it.

        At once, where it acknowledged; else when its own watchdog's time is over after the last
        that it heard; never, as far as is known, where it has none. ``held``: a hold is enough.
        """
        if self.stopped or (held and self.holding):
            return -math.inf
        watchdog_s = self.port.description.watchdog_s
        answers = self.armed_unasked and self.linked
        if self.stop_asked_s is None or watchdog_s is None or answers:
            return math.inf
        return self.stop_asked_s + watchdog_s + CLOCKS_DIFFER_S

    async def pump(self) -> None:
        """Take in events until the link ends. A launcher that tells no more is not heard any more,
        whether or not its driver says that the link is lost."""
        async for event in self.port.events():
            self._take(event)
            self._wake()
        if self.linked:
            silent = f"{self.name or 'the launcher'} tells nothing any more"
            self._take(LinkLost(device_s=anyio.current_time(), detail=silent))
        self._wake()

    def _take(self, event: Event) -> None:
        match event:
            case Left(feed_id=feed_id, device_s=device_s):
                self.settle(feed_id, Outcome.LEFT, device_s)
            case NotSent(feed_id=feed_id, reason=reason):
                self.settle(feed_id, Outcome.NOT_SENT, None, reason)
            case OutcomeUnknown(feed_id=feed_id, reason=reason):
                self.settle(feed_id, Outcome.UNKNOWN, None, reason)
            case StateChanged(state=state, reason=reason):
                self.before, self.state = self.state, state
                if self._is_armed_unasked(state):
                    self._is_moved()
                    self._owes_a_stop()
                    self.armed_unasked = True
                if state is LauncherState.FAULT:
                    self.reason = self.fault or reason
                else:
                    self.reason, self.fault = reason, ""
            case Fault(kind=kind, detail=detail):
                self.fault = self.reason = fault_words(kind, detail)
            case Gauged(supply_v=supply_v):
                self.gauged = event
                if supply_v is not None:
                    self.draw = noted(self.draw, self.balls_left_it, supply_v)
            case LinkLost(detail=detail):
                self.linked, self.reason = False, detail
                self._owes_a_stop()  # from now on it hears nothing, and stops by itself
        self.listener.event_heard(self, event)

    def settle(
        self, feed_id: int, outcome: Outcome, left_device_s: float | None, reason: str = ""
    ) -> None:
        """What became of a ball: first told, then in effect here. One that is settled already, or
        not of this launcher, is left."""
        ball = self.balls.get(feed_id)
        if ball is None or ball.outcome is outcome is Outcome.UNKNOWN:
            return
        self.listener.ball_settled(self, ball, outcome, left_device_s, reason)
        ball.outcome = outcome
        if outcome is not Outcome.UNKNOWN:
            del self.balls[feed_id]
        if outcome is Outcome.LEFT:
            self._left = (ball.setting, ball.lesson_s)
            self.balls_left_it += 1
            if self.hopper:
                self.hopper -= 1
        elif outcome is Outcome.NOT_SENT:
            self._taken_back(ball)
        ball.settled.set()

    def in_battery(self) -> int | None:
        """Balls that its battery still has in it, by what this run has drawn; None: not known."""
        least_v = None if self.gauged is None else self.gauged.least_supply_v
        return None if least_v is None else balls_left(self.draw, least_v)

    def _taken_back(self, ball: Ball) -> None:
        """It was moving to this ball's setting, or would have: where it is now lies between."""
        self.flushed = (*self.flushed, ball.setting)
        if not any(other.outcome is None for other in self.balls.values()):
            self.last_setting, self.last_lesson_s = self._left

    def queued(self, ball: Ball) -> None:
        """This ball is asked for, after all others."""
        self.balls[ball.feed_id] = ball
        self.last_setting, self.last_lesson_s, self.flushed = ball.setting, ball.lesson_s, ()

    def armed_anew(self) -> None:
        """It stands still."""
        self.last_setting, self.flushed, self._left = None, (), (None, self._left[1])

    def unknown(self) -> list[Ball]:
        """Balls of which even the launcher does not know what became."""
        return [ball for ball in self.balls.values() if ball.outcome is Outcome.UNKNOWN]

    def _wake(self) -> None:
        changed, self.changed = self.changed, anyio.Event()
        changed.set()

    async def wait_until(self, holds: Callable[[LauncherHandle], bool]) -> None:
        """Return when ``holds`` is true of this launcher."""
        while not holds(self):
            await self.changed.wait()

    async def room(self, most: int) -> None:
        """Return when fewer than ``most`` balls are under way."""
        while len(self.balls) >= most:
            await next(iter(self.balls.values())).settled.wait()

    async def ask_outcomes(self) -> None:
        """Settle every ball under way from the launcher's own memory.

        To be asked when nothing is queued any more. What it does not know stays unknown.
        """
        if not self.balls:
            return
        ids = sorted(self.balls)
        told = await self.port.history(ids[0] - 1, ids[-1])
        for fate in told:
            self.settle(fate.feed_id, fate.outcome, fate.device_s, fate.reason)
        for feed_id in ids:
            if feed_id in self.balls and self.balls[feed_id].outcome is None:
                self.settle(feed_id, Outcome.UNKNOWN, None, "the launcher does not say")
