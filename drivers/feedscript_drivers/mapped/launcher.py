"""The port over a mapped device: what the device cannot do, the host does as well as it can.

The host keeps the time of leaving, the feed ids and the arming; a killed host keeps none of them.
A feed command is never repeated: no answer means that its outcome is unknown.
"""

from __future__ import annotations

import math
import re
from collections.abc import AsyncIterator
from typing import Final

import anyio
from anyio.abc import ByteStream

from feedscript.launcher import port
from feedscript.launcher.port import (
    LINK_LOST,
    ClockReading,
    CommandRefusedError,
    Description,
    FeedOutcome,
    LauncherError,
    LauncherState,
    Outcome,
    ScheduledFeed,
    Status,
    StopCategory,
)
from feedscript.launcher.setting import Setting
from feedscript_drivers.link import STREAM_ENDS
from feedscript_drivers.mapped.description import Mapping
from feedscript_drivers.mapped.frames import FrameReader, OutOfRangeError, frame, numbers_of
from feedscript_drivers.pages import LAUNCHER_REFUSED, NO_ANSWER

S = LauncherState
_TRIES: Final = 3
_QUEUE: Final = 4
_HOLD_LIMIT_S: Final = 60.0
_HORIZON_S: Final = 120.0


class MappedLauncher:
    """See the port and the module. ``run`` must run beside it."""

    def __init__(self, mapping: Mapping, stream: ByteStream, device: str, hash_: str) -> None:
        self._mapping = mapping
        self._stream = stream
        self._device = device
        self._reader = FrameReader(mapping)
        self._state = S.SAFE
        self._reason = "none"
        self._ceiling: tuple[float, ...] = ()
        self._queue: list[ScheduledFeed] = []
        self._under_way: int | None = None
        self._highest = self._last_left = 0
        self._last_leave_s = -math.inf
        self._outcomes: dict[int, FeedOutcome] = {}
        self._writing = anyio.Lock()
        self._answer: anyio.Event | None = None
        self._answered_refused = False
        self._ball = anyio.Event()
        self._news = anyio.Event()
        self._held_since = math.inf
        self.lost: LauncherError | None = None
        self._events, self._source = anyio.create_memory_object_stream[port.Event](math.inf)
        self.description = Description(
            name=mapping.device.name,
            serial="",
            protocol=0,
            profile_hash=hash_,
            capabilities=frozenset(("mapped", "ball-sensor")),
            watchdog_s=mapping.device.watchdog_s,
            queue_depth=_QUEUE,
            hold_limit_s=_HOLD_LIMIT_S,
            horizon_s=_HORIZON_S,
        )

    # What the engine asks

    async def arm(self, ceiling: tuple[float, ...]) -> None:
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
        await self._halt(self._mapping.commands.stop, S.SAFE)

    async def prepare(self, setting: Setting) -> None:
        self._allowed("PREP", setting)
        if self._queue or self._under_way is not None:
            raise self._refused("PREP", "feeds are queued")
        await self._aim(setting)

    async def schedule(self, feed: ScheduledFeed) -> None:
        self._allowed("FEED", feed.setting)
        device = self._mapping.device
        now = anyio.current_time()
        trouble = None
        if feed.feed_id <= self._highest:
            trouble = "the feed id was used"
        elif len(self._queue) >= _QUEUE:
            trouble = "the queue is full"
        elif not device.feed_lead_s <= feed.leave_at_device_s - now <= _HORIZON_S:
            trouble = "it is too late, or too far ahead"
        elif feed.leave_at_device_s < self._last_leave_s + device.least_interval_s - 1e-6:
            trouble = "it is too soon after the ball before"
        if trouble is not None:
            raise self._refused("FEED", trouble)
        self._highest, self._last_leave_s = feed.feed_id, feed.leave_at_device_s
        self._queue.append(feed)
        self._poke()

    async def hold(self) -> None:
        self._flush("host-line")
        await self._ball_is_out()
        if self._state is S.ARMED:
            self._held_since = anyio.current_time()
            self._go(S.HELD, "host-line")
            self._poke()

    async def go_on(self) -> None:
        if self._state is not S.HELD:
            raise self._refused("GO", f"it is {self._state.value}")
        self._held_since = math.inf
        self._go(S.ARMED, "host-line")

    async def stop(self, category: StopCategory) -> None:
        if category is StopCategory.POWER_OFF:
            await self._halt(self._mapping.commands.emergency, S.STOPPED)
        elif self._state is S.STOPPED:
            await self._ask("STOP", self._mapping.commands.stop, {})
        else:
            await self._halt(self._mapping.commands.stop, S.SAFE)

    async def status(self) -> Status:
        self._alive()
        return Status(
            state=self._state,
            device_s=anyio.current_time(),
            last_left_feed_id=self._last_left,
            queued=len(self._queue) + (self._under_way is not None),
            hopper_balls=None,
            drives=(),
            reason=self._reason,
        )

    async def history(self, after_feed_id: int, up_to_feed_id: int) -> tuple[FeedOutcome, ...]:
        self._alive()
        found = []
        waiting = {feed.feed_id for feed in self._queue} | {self._under_way}
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
                for text in self._reader.feed(await self._stream.receive()):
                    self._hear(text)
        except STREAM_ENDS as error:
            self._lose(f"the port closed ({error or type(error).__name__})")

    async def keep_time(self) -> None:
        """Send feeds when they are due, and end a hold that lasts too long."""
        while self.lost is None:
            self._news = anyio.Event()
            if self._queue and self._state is S.ARMED and self._under_way is None:
                due_s = self._queue[0].leave_at_device_s - self._mapping.device.feed_lead_s
            else:
                due_s = self._held_since + _HOLD_LIMIT_S
            with anyio.move_on_at(due_s):
                await self._news.wait()
                continue
            try:
                await self._pass_due()
            except LauncherError as error:
                self._lose(error.diagnostic.message)

    async def keep_alive(self) -> None:
        """Tell a device that stops by itself that the host lives."""
        watchdog_s = self._mapping.device.watchdog_s
        while watchdog_s is not None and self.lost is None:
            await self._write(frame(self._mapping, self._mapping.commands.alive, {}))
            await anyio.sleep(watchdog_s / 4)

    async def _pass_due(self) -> None:
        if self._state is S.HELD:
            await self._halt(self._mapping.commands.stop, S.SAFE)
            return
        feed = self._queue.pop(0)
        self._under_way = feed.feed_id
        self._ball = anyio.Event()
        await self._write(frame(self._mapping, self._mapping.commands.feed, {}))
        with anyio.move_on_after(self._mapping.device.ball_within_s):
            await self._ball.wait()
        self._under_way = None
        if self._ball.is_set():
            self._end(feed.feed_id, Outcome.LEFT, "none")
        else:
            self._end(feed.feed_id, Outcome.UNKNOWN, "fault")
            self._emit(port.Fault(device_s=anyio.current_time(), kind="jam"))
            await self._halt(self._mapping.commands.stop, S.FAULT)
        if self._queue and self._state is S.ARMED:
            await self._aim(self._queue[0].setting)

    def _hear(self, text: str) -> None:
        replies = self._mapping.replies
        if re.fullmatch(replies.ball, text):
            if self._under_way is None or self._ball.is_set():
                self._break("stray-ball", text)
            self._ball.set()
        elif re.fullmatch(replies.fault, text):
            self._break("device", text)
        elif self._answer is not None:
            if re.fullmatch(replies.refused, text):
                self._answered_refused = True
                self._answer.set()
            elif re.fullmatch(replies.done, text):
                self._answer.set()

    def _break(self, kind: str, detail: str) -> None:
        self._flush("fault")
        self._emit(port.Fault(device_s=anyio.current_time(), kind=kind, detail=detail))
        if self._state is not S.STOPPED:
            self._go(S.FAULT, "fault")

    # Inside

    def _allowed(self, word: str, setting: Setting) -> None:
        self._alive()
        if self._state is not S.ARMED:
            raise self._refused(word, f"it is {self._state.value}")
        try:
            numbers_of(self._mapping, setting)
        except OutOfRangeError as error:
            raise self._refused(word, str(error)) from error
        ceiling = (*self._ceiling, 0.0, 0.0, 0.0)
        for drive, most in zip(setting.drives, ceiling, strict=False):
            if abs(drive) > most + 0.5:
                raise self._refused(word, f"a drive at {drive:g} is above the ceiling {most:g}")

    async def _aim(self, setting: Setting) -> None:
        numbers = numbers_of(self._mapping, setting)
        for template in self._mapping.commands.set:
            await self._ask("PREP", template, numbers)

    async def _ask(self, word: str, template: str, numbers: dict[str, int]) -> None:
        """A command whose repetition does no harm, answered; never used for a feed."""
        data = frame(self._mapping, template, numbers)
        async with self._writing:
            for _ in range(_TRIES):
                self._alive()
                self._answer, self._answered_refused = anyio.Event(), False
                await self._send(data)
                with anyio.move_on_after(self._mapping.device.answer_within_s):
                    await self._answer.wait()
                if self._answer.is_set():
                    break
            answered, self._answer = self._answer, None
        if self._answered_refused:
            raise self._refused(word, "the device said no")
        if answered is None or not answered.is_set():
            raise LauncherError(
                NO_ANSWER.report(f"{word}: the device did not answer", device=self._device)
            )

    async def _write(self, data: bytes) -> None:
        async with self._writing:
            await self._send(data)

    async def _send(self, data: bytes) -> None:
        try:
            await self._stream.send(data)
        except STREAM_ENDS as error:
            self._lose(f"the port took no more bytes ({error or type(error).__name__})")

    async def _halt(self, template: str, state: LauncherState) -> None:
        self._flush("host-line")
        self._held_since = math.inf
        self._go(S.STOPPING, "host-line")
        await self._send(frame(self._mapping, template, {}))  # ahead of whatever waits
        await self._ask("STOP", template, {})
        await self._ball_is_out()
        self._go(state, "host-line" if state is not S.FAULT else "fault")

    async def _ball_is_out(self) -> None:
        """A ball that was asked for cannot be called back; wait until it left or is overdue."""
        if self._under_way is not None:
            with anyio.move_on_after(self._mapping.device.ball_within_s):
                await self._ball.wait()

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

    def close(self) -> None:
        self._events.close()
        self._source.close()

    def _refused(self, word: str, why: str) -> CommandRefusedError:
        return CommandRefusedError(
            LAUNCHER_REFUSED.report(f"{word} was refused: {why}", device=self._device)
        )
