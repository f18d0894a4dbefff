"""The heartbeat: says that the host lives, measures the clock, notices a dead link."""

from __future__ import annotations

import anyio
from msgspec import Struct, field

from feedscript.launcher.port import LauncherState
from feedscript_drivers.wire.clock import DeviceClock
from feedscript_drivers.wire.link import Link
from feedscript_drivers.wire.messages import Beat, Heartbeat
from feedscript_drivers.wire.protocol import STATES, Times

#: States in which the launcher's silence limit runs.
WATCHED = frozenset((LauncherState.AWAITING_ARM, LauncherState.ARMED, LauncherState.HELD))
_REMEMBERED = 32


class Pulse(Struct):
    """Beats over one link. ``hurry()`` makes the next beat come now."""

    link: Link
    clock: DeviceClock
    state: LauncherState = LauncherState.SAFE
    mute: bool = False  # for a check of the launcher's watchdog: say nothing
    _number: int = 0
    _echo: int = 0
    _sent: dict[int, float] = field(default_factory=dict)
    _answered: anyio.Event = field(default_factory=anyio.Event)  # for who asks for one beat
    # Of the beats that come by themselves: when the last began, whether anything was heard since,
    # and the rest before the next. What is heard lengthens the rest, and wakes nobody.
    _began_s: float = 0.0
    _heard: bool = False
    _rest: anyio.CancelScope | None = None

    def hear(self, beat: Beat) -> None:
        """An answer came."""
        sent_s = self._sent.pop(beat.number, None)
        if sent_s is not None:
            self.clock.round_trip(sent_s, anyio.current_time(), beat.ms)
            if self.clock.seconds(beat.ms) > self.clock.seconds(self._echo) or not self._echo:
                self._echo = beat.ms
        if beat.state < len(STATES):
            self.state = STATES[beat.state]
        self._answered.set()
        if not self._heard:
            self._heard = True
            self._rest_until(self._began_s + self._interval_s())

    def hurry(self) -> None:
        if self._heard:
            self._rest_until(anyio.current_time())

    def _rest_until(self, moment_s: float) -> None:
        if self._rest is not None:
            self._rest.deadline = moment_s

    async def once(self) -> bool:
        """One beat; whether any answer came in time.

        Raises GivenUpError while a stop or hold of ours waits for its acknowledgement.
        """
        self._answered = anyio.Event()
        await self._beat(anyio.current_time())
        with anyio.move_on_after(Times.HEARTBEAT_AGAIN / 1000):
            await self._answered.wait()
        return self._answered.is_set()

    async def _beat(self, now_s: float) -> None:
        if self.link.silence_s() > 0.0:
            raise self.link.given_up("T")
        self._number = (self._number + 1) % 65536
        if len(self._sent) >= _REMEMBERED:
            self._sent.pop(next(iter(self._sent)))
        self._sent[self._number] = now_s
        await self.link.heartbeat(Heartbeat(self._number, self._echo))

    def _interval_s(self) -> float:
        watched = self.state in WATCHED
        return (Times.HEARTBEAT if watched else Times.HEARTBEAT_SAFE) / 1000

    async def run(self) -> None:
        """Beat until the link is lost."""
        silent_since: float | None = None
        while self.link.lost is None:
            if self.mute:
                await anyio.sleep(Times.HEARTBEAT_AGAIN / 1000)
                continue
            if self.link.silence_s() > 0.0:
                await self.link.until_beats_may()
                silent_since = None  # nobody was asked, so nobody kept silent
            self._began_s, self._heard = anyio.current_time(), False
            await self._beat(self._began_s)
            await self._until_the_next()
            if self._heard:
                silent_since = None
                continue
            silent_since = self._began_s if silent_since is None else silent_since
            silence_s = anyio.current_time() - silent_since
            if silence_s > Times.LINK_LOST / 1000:
                self.link.lose(f"nothing was heard for {silence_s:.1f} s")

    async def _until_the_next(self) -> None:
        """Rest until the next beat is due: soon, or later where this one is answered meanwhile;
        and no longer than there is a link."""
        due_s = self._began_s + self._interval_s()
        if not self._heard:
            due_s = anyio.current_time() + Times.HEARTBEAT_AGAIN / 1000
        with anyio.CancelScope(deadline=due_s) as self._rest:
            await self.link.lost_event.wait()
        self._rest = None
