"""The port over a mapped device: what the device cannot do, the host does as well as it can.

The host keeps the time of leaving, the feed ids and the arming; a killed host keeps none of them.
The device is set for every feed, and no feed goes out before the setting was acknowledged and the
parts had the profile's time to get there. A feed command is never repeated: no answer means that
its outcome is unknown.
"""

from __future__ import annotations

import contextlib
import math
from collections.abc import AsyncIterator
from typing import Final

import anyio
from anyio.abc import ByteStream
from msgspec import Struct, field

from feedscript.launcher import port
from feedscript.launcher.port import (
    LINK_LOST,
    ClockReading,
    CommandRefusedError,
    Description,
    FeedOutcome,
    GivenUpError,
    LauncherError,
    LauncherState,
    Outcome,
    ScheduledFeed,
    Status,
    StopCategory,
)
from feedscript.launcher.profile.model import Profile, profile_hash
from feedscript.launcher.setting import Setting
from feedscript_drivers.mapped.aim import Aim
from feedscript_drivers.mapped.answers import Answers, Owed, Verdict, Word
from feedscript_drivers.mapped.description.keys import Mapping
from feedscript_drivers.mapped.frames import FrameReader
from feedscript_drivers.mapped.guarantees import lost
from feedscript_drivers.mapped.news import Heard, News
from feedscript_drivers.mapped.numbers import OutOfRangeError, numbers_of
from feedscript_drivers.mapped.sender import Sender
from feedscript_drivers.pages import LAUNCHER_REFUSED, NO_ANSWER
from feedscript_drivers.wire.link import STREAM_ENDS
from feedscript_drivers.wire.protocol import Times

S = LauncherState
_QUEUE: Final = 4
_HOLD_LIMIT_S: Final = 60.0
_HORIZON_S: Final = 120.0
#: For the line's own way and the host's turn, beside what the device needs to answer. Design value.
_LINE_S: Final = 0.02
_GRACE_S: Final = Times.READY_GRACE / 1000
#: A board that resets when its port is opened needs a moment before it hears anything.
OPEN_PATIENCE_S: Final = 6.0
_STOP_PATIENCE_S: Final = 3.0
_SWITCH_OFF: Final = "it cannot be told to stop: a person switches it off now, at its switch"
#: So many feeds in a row that were not ready in time are trouble to be told. Design value.
_MISSES_MOST: Final = 3


class _Throw(Struct, eq=False):
    """The feed that went out to the device, until it is known what became of it."""

    feed: ScheduledFeed
    answer: Owed | None = None
    outcome: Outcome | None = None
    reason: str = "none"
    #: What became of it, where no ball is told: the device has said no. Of a command that came
    #: twice it may have taken one and said no to the other: its word of a ball stands above that.
    denied: Outcome | None = None
    said: anyio.Event = field(default_factory=anyio.Event)  # that there is a ball, or none
    over: anyio.Event = field(default_factory=anyio.Event)

    def end(self, outcome: Outcome, reason: str = "none") -> None:
        if self.outcome is None:
            self.outcome, self.reason = outcome, reason
            self.said.set()
            self.over.set()

    def deny(self, outcome: Outcome) -> None:
        self.denied = self.denied or outcome
        self.said.set()


class _Stop(Struct, eq=False):
    """A stop that was asked for; it is carried out also when whoever asked is gone."""

    word: Word
    reason: str
    then: LauncherState | None  # where to when it is acknowledged; None: it stays as it is
    patience_s: float = _STOP_PATIENCE_S
    done: anyio.Event = field(default_factory=anyio.Event)
    failed: LauncherError | None = None


class MappedLauncher:
    """See the port and the module. Its ``TASKS`` must run beside it."""

    def __init__(self, mapping: Mapping, stream: ByteStream, device: str, profile: Profile) -> None:
        self._mapping = mapping
        self._profile = profile
        self._stream = stream
        self._device = device
        self._reader = FrameReader(mapping)
        self._news_of = News(mapping)
        self._answers = Answers(mapping, self._out_of_step)
        self._sender = Sender(mapping, stream, device, self._answers, self._lose)
        self._aim = Aim(profile)
        self._aiming = anyio.Lock()
        self._state = S.SAFE
        self._reason = "none"
        self._ceiling: tuple[float, ...] = ()
        self._queue: list[ScheduledFeed] = []
        self._throw: _Throw | None = None
        self._highest = self._last_left = 0
        self._last_sent_s = -math.inf  # when the last feed that went out was to leave
        self._outcomes: dict[int, FeedOutcome] = {}
        self._news = anyio.Event()
        self._stops, self._stops_asked = anyio.create_memory_object_stream[_Stop](math.inf)
        self._held_since = math.inf
        self._missed = 0  # feeds in a row whose setting was not reached in time
        self._last_part: Owed | None = None  # of the setting, that has gone out
        self._said_ready = False  # since it was acknowledged
        self._hopper: int | None = None
        self._told_fault = ""  # until it is in another state
        self.lost: LauncherError | None = None
        self._opened = anyio.Event()
        self._events, self._source = anyio.create_memory_object_stream[port.Event](math.inf)
        self._single = _single_balls(mapping)
        self.description = _description(mapping, profile)

    # What the engine asks

    async def arm(self, ceiling: tuple[float, ...]) -> None:
        self._alive()
        if self._state is not S.SAFE:
            raise self._refused("ARM", f"it is {self._state.value}")
        self._ceiling = ceiling
        self._go(S.ARMED, "host-line")

    async def arming_code(self, code: str) -> None:
        del code
        raise self._refused("CODE", "the device has no display")

    async def disarm(self) -> None:
        if self._state is S.STOPPED:
            raise self._refused("DISARM", "the emergency stop is latched until the next session")
        await self._halt(_Stop("stop", "host-line", S.SAFE))

    async def open(self) -> None:
        """Shake hands, then stop whatever it does. Raises LauncherError when it does not answer."""
        until_s = anyio.current_time() + OPEN_PATIENCE_S
        for step in self._mapping.start:
            await self._sender.greet(step, until_s)
        if self._mapping.commands.stop:
            await self._halt(_Stop("stop", "none", None, OPEN_PATIENCE_S))
        self._opened.set()
        if not self._news_of.knows_count:
            await self._count_is_known(until_s)

    async def _count_is_known(self, until_s: float) -> None:
        """Return when the counter of balls was heard: from then on each ball is noticed."""
        with anyio.CancelScope(deadline=until_s):
            while not self._news_of.knows_count:
                await anyio.sleep(_LINE_S)
            return
        raise LauncherError(
            NO_ANSWER.report(
                "poll: the device did not tell how many balls have left so far",
                help="look at replies.ball and commands.poll of the mapping",
                device=self._device,
            )
        )

    async def prepare(self, setting: Setting) -> None:
        self._allowed("PREP", setting)
        if self._queue or self._throw is not None:
            raise self._refused("PREP", "feeds are queued")
        said_no = await self._set(setting, 0)
        if said_no is not None:
            raise self._refused("PREP", f"the device said {said_no!r}")

    async def schedule(self, feed: ScheduledFeed) -> None:
        self._allowed("FEED", feed.setting)
        trouble = self._trouble_with(feed)
        if trouble is not None:
            raise self._refused("FEED", trouble)
        self._highest = feed.feed_id
        self._queue.append(feed)
        self._poke()

    def _trouble_with(self, feed: ScheduledFeed) -> str | None:
        device = self._mapping.device
        last_s = self._queue[-1].leave_at_device_s if self._queue else self._last_sent_s
        if feed.feed_id <= self._highest:
            return "the feed id was used"
        if (
            len(self._queue) + (self._throw is not None) * self._single
            >= self.description.queue_depth
        ):
            return "the queue is full"
        ahead_s = feed.leave_at_device_s - anyio.current_time()
        if not device.feed_lead_s <= ahead_s <= _HORIZON_S:
            return "it is too late, or too far ahead"
        if feed.leave_at_device_s < last_s + device.least_interval_s - 1e-6:
            return "it is too soon after the ball before"
        return None

    async def hold(self) -> None:
        self._flush("host-line")
        if self._state is S.ARMED:
            self._held_since = anyio.current_time()
            self._go(S.HELD, "host-line")
            self._poke()
        await self._ball_is_out()

    async def go_on(self) -> None:
        if self._state is not S.HELD:
            raise self._refused("GO", f"it is {self._state.value}")
        self._held_since = math.inf
        self._go(S.ARMED, "host-line")

    async def stop(self, category: StopCategory) -> None:
        if category is StopCategory.POWER_OFF:
            await self._halt(_Stop("emergency", "host-line", S.STOPPED))
        elif self._state in (S.STOPPED, S.FAULT):
            await self._halt(_Stop("stop", "host-line", None))
        else:
            await self._halt(_Stop("stop", "host-line", S.SAFE))

    async def status(self) -> Status:
        self._alive()
        return Status(
            state=self._state,
            device_s=anyio.current_time(),
            last_left_feed_id=self._last_left,
            queued=len(self._queue) + (self._throw is not None),
            hopper_balls=self._hopper,
            drives=(),
            reason=self._reason,
        )

    async def history(self, after_feed_id: int, up_to_feed_id: int) -> tuple[FeedOutcome, ...]:
        self._alive()
        found = []
        waiting = {feed.feed_id for feed in self._queue}
        if self._throw is not None:
            waiting.add(self._throw.feed.feed_id)
        for feed_id in range(after_feed_id + 1, up_to_feed_id + 1):
            if feed_id in waiting:
                continue
            self._highest = max(self._highest, feed_id)
            unknown = FeedOutcome(feed_id=feed_id, outcome=Outcome.UNKNOWN, reason="no-memory")
            found.append(self._outcomes.setdefault(feed_id, unknown))
        return tuple(found)

    async def measure_clock(self) -> ClockReading:
        """The host's own clock: the device has none."""
        self._alive()
        return ClockReading(offset_s=0.0, uncertainty_s=0.0)

    async def _deliver(self) -> AsyncIterator[port.Event]:
        try:
            async for event in self._source:
                yield event
        except anyio.ClosedResourceError:
            return

    def events(self) -> AsyncIterator[port.Event]:
        return self._deliver()

    # What goes on beside

    async def read(self) -> None:
        """Read what the device says until it ends."""
        try:
            while True:
                data = await self._stream.receive()
                for text in self._reader.feed(data, anyio.current_time()):
                    self._hear(text)
        except STREAM_ENDS as error:
            self._lose(f"the port closed ({error or type(error).__name__})")

    async def keep_time(self) -> None:
        """Set for each feed, send it when it is due, and end a hold that lasts too long."""
        while self.lost is None:
            self._news = anyio.Event()
            try:
                await self._do_next()
            except GivenUpError:
                continue  # a stop or hold went ahead of it
            except LauncherError as error:
                self._lose(error.diagnostic.message)

    async def keep_alive(self) -> None:
        """Tell a device that stops by itself that the host lives."""
        watchdog_s = self._mapping.device.watchdog_s
        await self._opened.wait()
        while watchdog_s and self._mapping.commands.alive and self.lost is None:
            await self._sender.say_alive()
            await anyio.sleep(watchdog_s / 4)

    async def keep_asking(self) -> None:
        """Ask for the state again and again, where the device tells it when it is asked."""
        every_s = self._mapping.commands.poll_every_s
        await self._opened.wait()
        while every_s is not None and self.lost is None:
            if not self._sender.is_stopping:  # what is not heard must not seem alive
                await self._sender.poll()
            await anyio.sleep(every_s)

    async def carry_out_stops(self) -> None:
        """Stops, each at once and past the others."""
        async with self._stops_asked, anyio.create_task_group() as tasks:
            async for stop in self._stops_asked:
                tasks.start_soon(self._carry_out, stop)

    TASKS = (read, keep_time, keep_alive, keep_asking, carry_out_stops)

    # A feed

    async def _do_next(self) -> None:
        """One step: set for the next feed, wait for its moment, send it; or wait for news."""
        if self._state is not S.ARMED or not self._queue:
            with anyio.CancelScope(deadline=self._held_since + _HOLD_LIMIT_S) as patience:
                await self._news.wait()
            if patience.cancelled_caught:
                await self._halt(_Stop("stop", "hold-limit", S.SAFE))
            return
        feed = self._queue[0]
        due_s = feed.leave_at_device_s - self._mapping.device.feed_lead_s
        is_set = self._aim.for_feed == feed.feed_id
        if max(self._aim.ready_s if is_set else 0.0, anyio.current_time()) > due_s + _GRACE_S:
            self._not_ready(feed)
            return
        if not is_set:
            await self._set_for(feed)
            return
        moment_s = max(due_s, self._aim.ready_s)
        waits = anyio.current_time() >= moment_s and not self._is_ready
        with anyio.CancelScope(deadline=moment_s + _GRACE_S * waits) as until_due:
            await self._news.wait()
        if not until_due.cancelled_caught:  # something changed: look anew
            return
        if self._is_ready:
            await self._send(feed)
        elif waits:
            self._not_ready(feed)

    @property
    def _has_taken_all(self) -> bool:
        """Whether the device has acknowledged all that it was told to do."""
        part = self._last_part
        return part is not None and part.verdict is Verdict.DONE

    @property
    def _is_ready(self) -> bool:
        """Whether the device has said that it stands where it should, if it says so at all."""
        return self._said_ready or not self._mapping.replies.ready

    def _not_ready(self, feed: ScheduledFeed) -> None:
        self._missed += 1
        self._take_out(feed, "not-ready")
        if self._missed >= _MISSES_MOST:
            self._missed = 0
            self._break("setting-not-reached", "it answers too late, or out of step")

    async def _set_for(self, feed: ScheduledFeed) -> None:
        said_no = await self._set(feed.setting, feed.feed_id)
        if said_no is not None:
            self._take_out(feed, "setting-refused")
            self._break("setting-refused", said_no)

    def _take_out(self, feed: ScheduledFeed, reason: str) -> None:
        """It is not sent and never will be."""
        if feed in self._queue:
            self._queue.remove(feed)
            self._end(feed.feed_id, Outcome.NOT_SENT, reason)

    async def _set(self, setting: Setting, feed_id: int) -> str | None:
        """Tell the device every part of a setting; what it said if it refused one."""
        numbers = numbers_of(self._mapping, setting, self._profile)
        async with self._aiming:
            self._aim.begin(setting, anyio.current_time())
            for template in self._mapping.commands.set:
                owed = await self._sender.ask(
                    template, numbers, lambda: self._wants(feed_id), self._part_goes_out
                )
                if owed.verdict is Verdict.REFUSED:
                    return owed.text
            self._aim.told(feed_id, anyio.current_time())
        return None

    def _part_goes_out(self, owed: Owed) -> None:
        """What it said before, it said of where it was."""
        self._last_part, self._said_ready = owed, False

    def _wants(self, feed_id: int) -> bool:
        """Whether the device shall still move to a feed's setting; 0: to one without a feed."""
        queued = feed_id == 0 or any(feed.feed_id == feed_id for feed in self._queue)
        return self._state is S.ARMED and queued

    async def _send(self, feed: ScheduledFeed) -> None:
        throw = _Throw(feed)

        def begins() -> bool:
            """From the moment at which its bytes go out a feed cannot be taken back any more."""
            self._answers.forget(anyio.current_time())
            if not self._wants(feed.feed_id) or self._aim.for_feed != feed.feed_id:
                return False
            self._queue.remove(feed)
            self._throw, self._last_sent_s = throw, feed.leave_at_device_s
            self._missed = 0
            self._aim.spent()
            return True

        throw.answer = await self._sender.send("feed", self._mapping.commands.feed, None, begins)
        tells = bool(self._mapping.replies.ball)
        device = self._mapping.device
        with anyio.move_on_after(device.ball_within_s if tells else device.feed_lead_s + _GRACE_S):
            await throw.said.wait()
        if throw.denied is not None:
            # A ball comes after its lead, and word of it as late as an answer.
            with anyio.move_on_after(device.feed_lead_s + device.answer_within_s):
                await throw.over.wait()
            throw.end(throw.denied, "fault")
        self._throw = None
        if throw.outcome is not None:
            self._end(feed.feed_id, throw.outcome, throw.reason)
        elif not tells:
            # A person says what became of it, and arms it again for the next one.
            self._end(feed.feed_id, Outcome.UNKNOWN, "not-told")
            await self._halt(_Stop("stop", "host-line", S.SAFE))
        elif self._state is S.ARMED:
            self._end(feed.feed_id, Outcome.UNKNOWN, "fault")
            self._break("jam")
        else:
            self._end(feed.feed_id, Outcome.UNKNOWN, self._reason)
        if not self._mapping.commands.stop:
            await self._cannot_stop()  # one ball each time that it is opened

    # Hearing

    def _hear(self, text: str) -> None:
        heard = self._news_of.hear(text)
        if heard.is_news:
            self._take(heard, text)
        self._hear_answer(text)

    def _take(self, heard: Heard, text: str) -> None:
        """What the device says of itself."""
        if heard.hopper is not None:
            self._hopper = heard.hopper
        if heard.ready and self._has_taken_all and not self._said_ready:
            self._said_ready = True
            self._poke()
        if heard.balls:
            self._hear_ball(heard.balls, text)
        if heard.empty:
            self._hear_empty()
        if heard.fault and heard.fault != self._told_fault:
            self._break(heard.fault, text)

    def _hear_empty(self) -> None:
        throw = self._throw
        if throw is not None:
            taken = throw.answer is not None and throw.answer.verdict is Verdict.DONE
            throw.deny(Outcome.UNKNOWN if taken else Outcome.NOT_SENT)
            self._answers.answered_otherwise("feed")
        if self._told_fault != "empty":
            self._break("empty")

    def _hear_ball(self, balls: int, text: str) -> None:
        if balls != 1 or self._throw is None or self._throw.outcome is not None:
            self._break("stray-ball", text)
        else:
            self._throw.end(Outcome.LEFT)

    def _hear_answer(self, text: str) -> None:
        owed = self._answers.hear(text, anyio.current_time())
        if owed is not None and owed.word == "feed" and owed.verdict is Verdict.REFUSED:
            if self._throw is not None:
                self._throw.deny(Outcome.NOT_SENT)
            self._break("feed-refused", text)

    def _out_of_step(self) -> None:
        """What was acknowledged may have been another command: it counts no more."""
        self._aim.doubt()
        self._poke()

    def _break(self, kind: str, detail: str = "") -> None:
        """The device found trouble: nothing more leaves, and it is stopped."""
        self._flush("fault")
        self._told_fault = kind
        self._emit(port.Fault(device_s=anyio.current_time(), kind=kind, detail=detail))
        if self._state is not S.STOPPED:
            self._go(S.FAULT, "fault")
        self._aim.stopped()
        self._stops.send_nowait(_Stop("stop", "fault", None))

    # Inside

    def _allowed(self, word: str, setting: Setting) -> None:
        self._alive()
        if self._state is not S.ARMED:
            raise self._refused(word, f"it is {self._state.value}")
        try:
            numbers_of(self._mapping, setting, self._profile)
        except OutOfRangeError as error:
            raise self._refused(word, str(error)) from error
        ceiling = (*self._ceiling, 0.0, 0.0, 0.0)
        for drive, most in zip(setting.drives, ceiling, strict=False):
            if abs(drive) > most + 0.5:
                raise self._refused(word, f"a drive at {drive:g} is above the ceiling {most:g}")

    async def _halt(self, stop: _Stop) -> None:
        """Have a stop carried out, and wait for that. Raises LauncherError."""
        if stop.then is not None:
            self._flush(stop.reason)
            self._held_since = math.inf
            self._go(S.STOPPING, stop.reason)
        if not self._mapping.commands.stop:
            await self._cannot_stop()
        self._aim.stopped()
        self._stops.send_nowait(stop)
        await stop.done.wait()
        if stop.failed is not None:
            raise stop.failed

    async def _cannot_stop(self) -> None:
        """Nothing more is fed; the drives turn on until a person switches them off, and until then
        the device is not said to have stopped."""
        await self._ball_is_out()
        self._lose(_SWITCH_OFF)
        self._alive()

    async def _carry_out(self, stop: _Stop) -> None:
        commands = self._mapping.commands
        template = commands.emergency if stop.word == "emergency" else commands.stop
        if not template:
            self._lose(_SWITCH_OFF)
            stop.done.set()
            return
        try:
            await self._sender.halt(stop.word, template, stop.patience_s)
            await self._ball_is_out()
        except LauncherError as error:
            stop.failed = error
            self._lose(error.diagnostic.message)
        else:
            # Trouble, or an emergency stop, that came meanwhile stays.
            if stop.then is S.STOPPED or (stop.then is not None and self._state is S.STOPPING):
                self._go(stop.then, stop.reason)
        stop.done.set()

    async def _ball_is_out(self) -> None:
        """A ball that was asked for cannot be called back; wait until it left or is overdue."""
        if self._throw is not None:
            with anyio.move_on_after(self._mapping.device.ball_within_s):
                await self._throw.over.wait()

    def _flush(self, reason: str) -> None:
        for feed in self._queue:
            self._end(feed.feed_id, Outcome.NOT_SENT, reason)
        self._queue.clear()
        self._poke()

    def _end(self, feed_id: int, outcome: Outcome, reason: str) -> None:
        now = anyio.current_time()
        left = outcome is Outcome.LEFT
        self._outcomes[feed_id] = FeedOutcome(
            feed_id=feed_id, outcome=outcome, device_s=now if left else None, reason=reason
        )
        if left:
            self._last_left = feed_id
            self._emit(port.Left(device_s=now, feed_id=feed_id))
        elif outcome is Outcome.NOT_SENT:
            self._emit(port.NotSent(device_s=now, feed_id=feed_id, reason=reason))
        else:
            self._emit(port.OutcomeUnknown(device_s=now, feed_id=feed_id, reason=reason))

    def _go(self, state: LauncherState, reason: str) -> None:
        self._state, self._reason = state, reason
        if state not in (S.FAULT, S.STOPPED):
            self._told_fault = ""
        self._emit(port.StateChanged(device_s=anyio.current_time(), state=state, reason=reason))

    def _poke(self) -> None:
        self._news.set()

    def _emit(self, event: port.Event) -> None:
        try:
            self._events.send_nowait(event)
        except (anyio.ClosedResourceError, anyio.BrokenResourceError):
            return  # nobody listens any more

    def _alive(self) -> None:
        if self.lost is not None:
            raise self.lost

    def _lose(self, detail: str) -> None:
        if self.lost is None:
            text = f"the link to the launcher is gone: {detail}"
            self.lost = LauncherError(LINK_LOST.report(text, device=self._device))
            self._emit(port.LinkLost(device_s=anyio.current_time(), detail=text))
            self._events.close()
            self._poke()
            # Whether or not it is heard: unless the block was left, which stops it by itself.
            with contextlib.suppress(anyio.ClosedResourceError, anyio.BrokenResourceError):
                self._stops.send_nowait(_Stop("stop", "none", None))

    def close(self) -> None:
        self._events.close()
        self._source.close()
        self._stops.close()

    def _refused(self, word: str, why: str) -> CommandRefusedError:
        return CommandRefusedError(
            LAUNCHER_REFUSED.report(f"{word} was refused: {why}", device=self._device)
        )


def _description(mapping: Mapping, profile: Profile) -> Description:
    """What the mapping says in the device's stead.

    The device cannot tell which profile it is: the mapping stands for the one it is used with.
    """
    device = mapping.device
    return Description(
        name=device.name,
        serial="",
        protocol=0,
        profile_hash=profile_hash(profile),
        capabilities=frozenset(("mapped", *(("ball-sensor",) if mapping.replies.ball else ()))),
        watchdog_s=device.watchdog_s,
        queue_depth=1 if _single_balls(mapping) else _QUEUE,
        hold_limit_s=_HOLD_LIMIT_S,
        horizon_s=_HORIZON_S,
        asking_s=_asking_s(mapping, profile),
        lacks=frozenset(lost(mapping)),
    )


def _single_balls(mapping: Mapping) -> bool:
    """Whether a person has to see to each ball: none is asked for behind another."""
    return not (mapping.replies.ball and mapping.commands.stop)


def _asking_s(mapping: Mapping, profile: Profile) -> float:
    """Each part of a setting may be answered as late as the device is said to, and so may the word
    that the ball before has left; and it may take longer to feed than the profile's gate."""
    device = mapping.device
    answers = len(mapping.commands.set) + 1
    later_s = max(0.0, device.feed_lead_s - profile.feeder.gate_lead_s)
    if mapping.commands.poll_every_s is not None:
        # Each word may wait for a poll's answer; that a ball left and that the parts are there may
        # be told one poll later.
        answers += 3
        later_s += 2 * mapping.commands.poll_every_s
    return answers * (device.answer_within_s + _LINE_S) + later_s
