"""When the host says what: section 6 of ``shared/protocol.md``, on a clock that jumps."""

from __future__ import annotations

import re
from collections.abc import Awaitable, Callable
from dataclasses import dataclass, field

import anyio
import pytest
import trio
import trio.testing
from anyio.abc import ByteStream
from feedscript_drivers.wire.clock import DeviceClock
from feedscript_drivers.wire.codec import plain_line
from feedscript_drivers.wire.heartbeat import Pulse
from feedscript_drivers.wire.link import Link
from feedscript_drivers.wire.protocol import StopCharacter

from feedscript.launcher.port import LauncherError, LauncherState


@dataclass
class Deaf(ByteStream):
    """Notes when what was written; answers heartbeats while ``answers`` holds."""

    state: int = 0
    answers: bool = True
    said: list[tuple[int, bytes]] = field(default_factory=list)
    _coming: bytearray = field(default_factory=bytearray)
    _news: anyio.Event = field(default_factory=anyio.Event)

    async def send(self, item: bytes) -> None:
        now_ms = round(anyio.current_time() * 1000)
        self.said.append((now_ms, item.split(b"*")[0]))
        beat = re.match(rb"T (\d+) ", item)
        if beat and self.answers:
            self._coming += plain_line(f"t {int(beat[1])} {now_ms} 1 {self.state} 1")
            self._news.set()

    async def receive(self, max_bytes: int = 65536) -> bytes:
        while not self._coming:
            self._news = anyio.Event()
            await self._news.wait()
        data, self._coming = bytes(self._coming[:max_bytes]), bytearray()
        return data

    async def send_eof(self) -> None:
        """Nothing ends."""

    async def aclose(self) -> None:
        """Nothing is held."""


def on_the_clock(
    deaf: Deaf, script: Callable[[Link, Pulse], Awaitable[None]], *, beats: bool = False
) -> list[tuple[int, bytes]]:
    """Run a script over a link; everything said, in milliseconds since its beginning."""

    async def run() -> None:
        link = Link(deaf, "deaf", first_sequence=6)
        pulse = Pulse(link, DeviceClock())
        link.on_beat = pulse.hear
        began_ms = round(anyio.current_time() * 1000)
        async with anyio.create_task_group() as tasks:
            tasks.start_soon(link.read)
            if beats:
                tasks.start_soon(pulse.run)
            await script(link, pulse)
            tasks.cancel_scope.cancel()
        deaf.said = [(at_ms - began_ms, data) for at_ms, data in deaf.said]

    trio.run(run, clock=trio.testing.MockClock(autojump_threshold=0))
    return deaf.said


def test_an_unanswered_command_is_repeated_every_150_ms_under_its_number() -> None:
    async def script(link: Link, _: Pulse) -> None:
        with pytest.raises(LauncherError):
            await link.command("STAT", patience_s=0.5)

    said = on_the_clock(Deaf(), script)
    assert said == [(150 * i, b"7 STAT") for i in range(4)]


def test_a_stop_is_its_byte_first_and_then_its_line_every_50_ms() -> None:
    async def script(link: Link, _: Pulse) -> None:
        with anyio.move_on_after(0.18):
            await link.urgent(StopCharacter.STOP, "STOP", 1)

    said = on_the_clock(Deaf(), script)
    assert said == [(0, bytes([StopCharacter.STOP])), *((50 * i, b"7 STOP 1") for i in range(4))]


@pytest.mark.parametrize(("state", "every_ms"), [(0, 1000), (1, 200), (2, 200), (3, 200)])
def test_a_heartbeat_comes_every_200_ms_and_every_second_in_safe(state: int, every_ms: int) -> None:
    async def script(_: Link, pulse: Pulse) -> None:
        pulse.state = LauncherState.SAFE
        await anyio.sleep(every_ms * 3.5 / 1000)

    said = on_the_clock(Deaf(state=state), script, beats=True)
    assert [at_ms for at_ms, _ in said] == [every_ms * i for i in range(4)]
    echoes = [int(data.split()[2]) for _, data in said]
    assert echoes[1:] == sorted(set(echoes[1:])), "each echoes the newest clock that was heard"


def test_unanswered_heartbeats_come_every_75_ms_and_after_700_the_link_is_lost() -> None:
    lost: list[int] = []

    async def script(link: Link, _: Pulse) -> None:
        began = anyio.current_time()
        with anyio.fail_after(5):
            await link.lost_event.wait()
        lost.append(round((anyio.current_time() - began) * 1000))

    said = on_the_clock(Deaf(answers=False), script, beats=True)
    assert [at_ms for at_ms, _ in said] == [75 * i for i in range(10)]
    assert lost == [750]  # the first look at the watch after 700


def test_a_hurried_beat_comes_at_once_where_the_last_was_answered_and_the_next_after_its_time() -> (
    None
):
    async def script(_: Link, pulse: Pulse) -> None:
        await anyio.sleep(0.05)
        pulse.hurry()
        await anyio.sleep(0.27)

    said = on_the_clock(Deaf(state=2), script, beats=True)
    assert [at_ms for at_ms, _ in said] == [0, 50, 250]


def test_a_pulse_ends_with_its_link_and_not_at_the_beat_that_was_due() -> None:
    ended_ms: list[float] = []

    async def lose(link: Link, pulse: Pulse) -> None:
        async with anyio.create_task_group() as tasks:
            tasks.start_soon(pulse.run)
            await anyio.sleep(0.05)
            began_s = anyio.current_time()
            link.lose("the port was taken away")
        ended_ms.append(1000 * (anyio.current_time() - began_s))

    said = on_the_clock(Deaf(), lose)
    assert ended_ms == [0.0]
    assert [data for _, data in said] == [b"T 1 0"]
