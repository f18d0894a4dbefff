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
    _answered: anyio.Event = field(default_factory=anyio.Event)
    _hurry: anyio.Event = field(default_factory=anyio.Event)

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

    def hurry(self) -> None:
        self._hurry.set()

    async def once(self) -> bool:
        """One beat; whether any answer came in time.

        Raises GivenUpError while a stop or hold of ours waits for its acknowledgement.
        """
        if self.link.silence_s() > 0.0:
            raise self.link.given_up("T")
        self._number = (self._number + 1) % 65536
        if len(self._sent) >= _REMEMBERED:
            self._sent.pop(next(iter(self._sent)))
        self._answered = anyio.Event()
        self._sent[self._number] = anyio.current_time()
        await self.link.heartbeat(Heartbeat(self._number, self._echo))
        with anyio.move_on_after(Times.HEARTBEAT_AGAIN / 1000):
            await self._answered.wait()
        return self._answered.is_set()

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
            started = anyio.current_time()
            if await self.once():
                silent_since = None
                self._hurry = anyio.Event()
                rest = started + self._interval_s() - anyio.current_time()
                with anyio.move_on_after(max(0.0, rest)):
                    await self._hurry.wait()
                continue
            silent_since = started if silent_since is None else silent_since
            silence_s = anyio.current_time() - silent_since
            if silence_s > Times.LINK_LOST / 1000:
                self.link.lose(f"nothing was heard for {silence_s:.1f} s")
