"""A launcher that speaks this project's wire, over any byte stream."""

from __future__ import annotations

import contextlib
import math
import secrets
from collections.abc import AsyncIterator
from typing import Final

import anyio
from anyio.abc import ByteStream

from feedscript.launcher import port
from feedscript.launcher.port import (
    ClockReading,
    CommandRefusedError,
    ConnectOptions,
    Description,
    FeedOutcome,
    LauncherError,
    Outcome,
    ScheduledFeed,
    Status,
    StopCategory,
)
from feedscript.launcher.setting import Setting
from feedscript_drivers.pages import LAUNCHER_REFUSED
from feedscript_drivers.wire.clock import DeviceClock
from feedscript_drivers.wire.event_order import EventOrder
from feedscript_drivers.wire.gauges import EVERY_S, Gauges, read_gauges
from feedscript_drivers.wire.handshake import Handshake, HandshakeResult
from feedscript_drivers.wire.heartbeat import Pulse
from feedscript_drivers.wire.link import Link
from feedscript_drivers.wire.messages import Argument, Beat, EventLine, Reply
from feedscript_drivers.wire.one_error import one_error
from feedscript_drivers.wire.port_events import reason_name, translate
from feedscript_drivers.wire.protocol import (
    STATES,
    Code,
    FeedLetter,
    Reason,
    StopCharacter,
    spelled,
)
from feedscript_drivers.wire.refused import fix, refusal
from feedscript_drivers.wire.trust import Trust

_FAREWELL_S: Final = 0.6
_FRESH_S: Final = 1.5
#: Why a launcher started, by the cause that its BOOT line gives, and what to look for.
_RESTARTS: Final = {
    0: ("its power was gone, if only for a moment", "brown-out"),
    1: ("it was reset", "reset"),
    2: ("its supply voltage dipped (brown-out)", "brown-out"),
    3: ("its program hung, and its hardware watchdog ended that", "watchdog"),
}
_OPENED: Final = spelled(Reason.OPENED)
_ENOUGH_SAMPLES: Final = 4
_GAUGED: Final = frozenset(("voltage", "temperature"))

_OUTCOMES: Final = {
    FeedLetter.LEFT: Outcome.LEFT,
    FeedLetter.NOT_SENT: Outcome.NOT_SENT,
    FeedLetter.UNKNOWN: Outcome.UNKNOWN,
}


def setting_fields(setting: Setting) -> tuple[int, ...]:
    """A setting as PREP and FEED carry it: three drives, three angles in hundredths."""
    drives = [round(drive) for drive in setting.drives] + [0, 0, 0]
    angles = (setting.pan_deg, setting.tilt_deg, setting.roll_deg)
    return (*drives[:3], *(round(angle * 100) for angle in angles))


class WireLauncher:
    """See the port. Made by :func:`open_launcher`."""

    def __init__(
        self,
        link: Link,
        clock: DeviceClock,
        pulse: Pulse,
        opened: HandshakeResult,
        left_before: int = 0,
    ) -> None:
        self.link = link
        self.pulse = pulse
        self._clock = clock
        self._opened = opened
        # "Kept" says only that the session was the one remembered; that it was remembered from
        # the start, and not begun anew by a host between, shows in a ball known to have left.
        self._reaches_back = opened.memory_kept and 0 < left_before <= opened.left
        self._order = EventOrder(opened.last_event)
        self._told: port.LauncherState | None = None  # the state that its last event named
        self._missing = anyio.Event()
        self._asked: set[int] = set()  # feed ids scheduled over this connection
        self._gauges = Gauges()
        self._open_feeds: set[int] = set()  # of those, the ones without an event yet
        self._events, self._event_source = anyio.create_memory_object_stream[port.Event](math.inf)
        link.on_event = self._hear_event
        link.on_beat = self._hear_beat

    @property
    def description(self) -> Description:
        return self._opened.description

    # Commands

    async def arm(self, ceiling: tuple[float, ...]) -> None:
        most = [math.ceil(abs(drive)) for drive in ceiling] + [0, 0, 0]
        await self._do("ARM", *most[:3])
        self.link.acknowledged(StopCharacter.EMERGENCY)  # only one that stands still waits for it
        self.pulse.hurry()

    async def arming_code(self, code: str) -> None:
        await self._do("CODE", int(code) if code.isdecimal() else 0)

    async def disarm(self) -> None:
        await self._do("DISARM")
        self.link.acknowledged(StopCharacter.STOP)

    async def prepare(self, setting: Setting) -> None:
        await self._do("PREP", *setting_fields(setting))

    async def schedule(self, feed: ScheduledFeed) -> None:
        self._asked.add(feed.feed_id)
        leave = self._clock.milliseconds(feed.leave_at_device_s)
        await self._do("FEED", feed.feed_id, leave, *setting_fields(feed.setting))
        self._open_feeds.add(feed.feed_id)

    async def hold(self) -> None:
        self._judge("HOLD", await self.link.urgent(StopCharacter.HOLD, "HOLD"))

    async def go_on(self) -> None:
        await self._do("GO")
        self.link.acknowledged(StopCharacter.HOLD)  # one that was not held refuses it

    async def stop(self, category: StopCategory) -> None:
        character = (
            StopCharacter.EMERGENCY if category is StopCategory.POWER_OFF else StopCharacter.STOP
        )
        self._judge("STOP", await self.link.urgent(character, "STOP", int(category)))

    async def status(self) -> Status:
        reply = await self._do("STAT")
        try:
            state, reason, ms, left, _, queued, hopper, *drives, event = map(int, reply.arguments)
            where = STATES[state]
        except (ValueError, IndexError):
            raise self._garbled("STAT") from None
        self._order.hear_of(event)
        return Status(
            state=where,
            device_s=self._clock.seconds(ms),
            last_left_feed_id=left,
            queued=queued,
            hopper_balls=None if hopper < 0 else hopper,
            drives=tuple(float(drive) for drive in drives),
            reason=reason_name(reason),
            supply_v=self._gauges.supply_v,
            temperature_c=self._gauges.temperature_c,
        )

    async def history(self, after_feed_id: int, up_to_feed_id: int) -> tuple[FeedOutcome, ...]:
        found = [await self._outcome(i) for i in range(after_feed_id + 1, up_to_feed_id + 1)]
        return tuple(outcome for outcome in found if outcome is not None)

    async def _outcome(self, feed_id: int) -> FeedOutcome | None:
        reply = await self._do("HIST", feed_id)
        try:
            letter = FeedLetter(reply.arguments[1])
            ms, reason = int(reply.arguments[2]), int(reply.arguments[3])
        except (ValueError, IndexError):
            raise self._garbled("HIST") from None
        if letter is FeedLetter.QUEUED:
            return None
        self._open_feeds.discard(feed_id)
        outcome = _OUTCOMES[letter]
        remembers = self._reaches_back or feed_id in self._asked
        if reason == Reason.NEVER_ACCEPTED and not remembers:
            outcome = Outcome.UNKNOWN  # the memory that could tell may have been lost
        left = outcome is Outcome.LEFT
        return FeedOutcome(
            feed_id=feed_id,
            outcome=outcome,
            device_s=self._clock.seconds(ms) if left else None,
            reason=reason_name(reason),
        )

    async def measure_clock(self) -> ClockReading:
        while self.link.lost is None and (
            self._clock.samples() < _ENOUGH_SAMPLES
            or self._clock.age_s(anyio.current_time()) > _FRESH_S
        ):
            await self.pulse.once()
        if self.link.lost is not None:
            raise LauncherError(self.link.lost)
        return self._clock.measured(anyio.current_time())

    async def _do(self, word: str, *arguments: Argument) -> Reply:
        return self._judge(word, await self.link.command(word, *arguments))

    def _judge(self, word: str, reply: Reply) -> Reply:
        if reply.code is None:
            return reply
        raise CommandRefusedError(
            LAUNCHER_REFUSED.report(
                f"{word} was refused: {refusal(reply)}",
                help=fix(reply),
                device=self.link.device,
            )
        )

    def _garbled(self, word: str) -> LauncherError:
        return LauncherError(
            LAUNCHER_REFUSED.report(
                f"the answer to {word} cannot be read; {self.link.last_bytes()}",
                device=self.link.device,
            )
        )

    # Events

    def events(self) -> AsyncIterator[port.Event]:
        return self._deliver()

    async def _deliver(self) -> AsyncIterator[port.Event]:
        with contextlib.suppress(anyio.ClosedResourceError):  # the block was left: no more come
            async for event in self._event_source:
                yield event

    def _emit(self, event: port.Event) -> None:
        with contextlib.suppress(anyio.ClosedResourceError, anyio.BrokenResourceError):
            self._events.send_nowait(event)  # nobody may be listening any more

    def _hear_beat(self, beat: Beat) -> None:
        self.pulse.hear(beat)
        if beat.boot != self._opened.boot:
            self.link.lose("the launcher restarted")
            return
        self._order.hear_of(beat.event)
        if self._order.first_missing() is not None:
            self._missing.set()
        elif beat.event == self._order.last:
            self._see_that_it_told(beat)

    def _see_that_it_told(self, beat: Beat) -> None:
        """All its events are here; that it is armed, none of them may have said."""
        armed = port.LauncherState.ARMED
        if self.pulse.state is armed and self._told is not armed:
            self._told = armed
            at_s = self._clock.seconds(beat.ms)
            self._emit(port.StateChanged(device_s=at_s, state=armed, reason="untold"))

    def _hear_event(self, line: EventLine) -> None:
        if line.word == "BOOT":
            cause = line.numbers[1] if len(line.numbers) > 1 else -1
            why, kind = _RESTARTS.get(cause, ("", ""))
            told = "the launcher restarted" + (f": {why}" if why else "")
            self.link.lose(told, kind)
            return
        for ready in self._order.take(line):
            self._pass_on(ready)
        if self._order.first_missing() is not None:
            self._missing.set()

    def _pass_on(self, line: EventLine) -> None:
        event = translate(line, self._clock.seconds(line.ms))
        if event is None:
            return
        if isinstance(event, port.StateChanged):
            self.pulse.state = self._told = event.state
            if event.reason == _OPENED:  # events of our own opening lie before the first we take
                self.link.lose("the launcher was opened by another connection")
                return
        if isinstance(event, port.Left | port.NotSent | port.OutcomeUnknown):
            self._open_feeds.discard(event.feed_id)
        self._emit(event)

    async def fetch_missing(self) -> None:
        """Ask for events that were lost, as long as the link lives."""
        while self.link.lost is None:
            await self._missing.wait()
            self._missing = anyio.Event()
            first = self._order.first_missing()
            if first is None:
                continue
            with contextlib.suppress(LauncherError):
                await self._fetch(first)
            await anyio.sleep(0.02)  # what was asked for is on its way; ask again only then
            if self._order.first_missing() is not None:
                self._missing.set()

    async def _fetch(self, first: int) -> None:
        reply = await self.link.command("EVT", first)
        if reply.code != Code.NOT_KEPT or not reply.arguments:
            return
        for feed_id in sorted(self._open_feeds):
            outcome = await self._outcome(feed_id)
            if outcome is not None:
                self._emit(_as_event(outcome, self._clock))
        for ready in self._order.give_up_before(int(reply.arguments[0])):
            self._pass_on(ready)

    async def watch_gauges(self) -> None:
        """Read what it measures of itself, and tell of it, as long as the link lives."""
        sensed = self.description.capabilities & _GAUGED
        while sensed and self.link.lost is None:
            with contextlib.suppress(LauncherError):  # a stop goes ahead: the next reading will do
                self._gauges = await read_gauges(self.link)
                if not self._gauges.any:
                    return
                self._emit(self._gauged())
            await anyio.sleep(EVERY_S)

    def _gauged(self) -> port.Gauged:
        now_s = anyio.current_time()
        gauges = self._gauges
        return port.Gauged(
            device_s=now_s + self._clock.measured(now_s).offset_s if self._clock.samples() else 0.0,
            supply_v=gauges.supply_v,
            least_supply_v=gauges.least_supply_v,
            temperature_c=gauges.temperature_c,
        )

    async def announce_loss(self) -> None:
        """Wait for the link's end, tell whoever reads the events, and end them."""
        await self.link.lost_event.wait()
        assert self.link.lost is not None
        device_s = 0.0
        if self._clock.samples():
            now_s = anyio.current_time()
            device_s = now_s + self._clock.measured(now_s).offset_s
        self._emit(
            port.LinkLost(
                device_s=device_s, detail=self.link.lost.message, cause=self.link.lost_cause
            )
        )
        self._events.close()

    def close(self) -> None:
        self._events.close()
        self._event_source.close()


def _as_event(outcome: FeedOutcome, clock: DeviceClock) -> port.Event:
    now_s = anyio.current_time()
    device_s = now_s + clock.measured(now_s).offset_s
    match outcome.outcome:
        case Outcome.LEFT:
            return port.Left(device_s=outcome.device_s or device_s, feed_id=outcome.feed_id)
        case Outcome.NOT_SENT:
            return port.NotSent(device_s=device_s, feed_id=outcome.feed_id, reason=outcome.reason)
        case Outcome.UNKNOWN:
            return port.OutcomeUnknown(
                device_s=device_s, feed_id=outcome.feed_id, reason=outcome.reason
            )


@contextlib.asynccontextmanager
async def open_launcher(
    stream: ByteStream,
    options: ConnectOptions,
    device: str,
    nonce: int | None = None,
    kind: type[WireLauncher] = WireLauncher,
    *,
    trust: Trust = Trust.KEYED,
) -> AsyncIterator[WireLauncher]:
    """A launcher at the far end of ``stream``, opened and with its heartbeat running.

    ``trust`` says what the handshake asks of the link's lines.

    However the block is left, the launcher is told to stop before the stream is closed.
    """
    nonce = secrets.randbits(32) if nonce is None else nonce
    link = Link(stream, device, first_sequence=nonce)
    clock = DeviceClock()
    pulse = Pulse(link, clock)
    with one_error():
        async with stream, anyio.create_task_group() as tasks:
            tasks.start_soon(link.read)
            try:
                opened = await Handshake(link, options.session, nonce, options.key, trust).run()
                launcher = kind(link, clock, pulse, opened, options.left_before)
                tasks.start_soon(pulse.run)
                tasks.start_soon(launcher.fetch_missing)
                tasks.start_soon(launcher.announce_loss)
                tasks.start_soon(launcher.watch_gauges)
                try:
                    yield launcher
                finally:
                    await _say_farewell(launcher)
            finally:
                tasks.cancel_scope.cancel()


async def _say_farewell(launcher: WireLauncher) -> None:
    """Leave no launcher armed behind, even when this task is being cancelled."""
    if launcher.link.lost is None:
        with anyio.move_on_after(_FAREWELL_S, shield=True), contextlib.suppress(LauncherError):
            await launcher.stop(StopCategory.RUN_DOWN)
    launcher.close()
