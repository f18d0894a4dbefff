"""What ends a connection to a launcher of the wire, and what is left behind when it ends."""

from __future__ import annotations

from collections.abc import Awaitable, Callable

import anyio
import pytest
import trio
import trio.testing
from anyio.abc import ByteStream
from feedscript_drivers.transports.inbox import InboxStream
from feedscript_drivers.wire.trust import Trust
from feedscript_drivers.wire.wire_launcher import WireLauncher, open_launcher
from feedscript_simulator.links.driven import Driven
from feedscript_simulator.stand_in import StandIn, build

from feedscript.launcher.port import ConnectOptions, LauncherError, LauncherState, LinkLost
from tests.drivers.faults.faulty_world import PROFILE

OPTIONS = ConnectOptions(profile=PROFILE, session=1)
CEILING = (1000.0, 1000.0)


class Bus:
    """A launcher on a wire that several hosts share: each hears all that it says."""

    def __init__(self, stand_in: StandIn, deaf_to: bytes = b"nothing") -> None:
        self.stand_in = stand_in
        self.driven = Driven(stand_in, self._say)
        self._deaf_to = deaf_to
        self._taps: list[Tap] = []

    def tap(self) -> ByteStream:
        self._taps.append(Tap(self.driven))
        return self._taps[-1]

    def _say(self, data: bytes) -> None:
        for line in data.splitlines(keepends=True):
            for tap in self._taps:
                tap.come(b"" if self._deaf_to in line else line)


class Tap(InboxStream):
    """One host's end."""

    def __init__(self, driven: Driven) -> None:
        super().__init__()
        self._driven = driven

    async def send(self, item: bytes) -> None:
        await anyio.lowlevel.checkpoint_if_cancelled()
        self._driven.receive(item)


def on_bus(script: Callable[[Bus], Awaitable[None]], deaf_to: bytes = b"nothing") -> None:
    async def run() -> None:
        bus = Bus(build(PROFILE, powered_s=anyio.current_time()), deaf_to)
        async with anyio.create_task_group() as tasks:
            tasks.start_soon(bus.driven.keep_time)
            with anyio.fail_after(60):
                await script(bus)
            tasks.cancel_scope.cancel()

    trio.run(run, clock=trio.testing.MockClock(autojump_threshold=0))


async def armed(launcher: WireLauncher) -> None:
    await launcher.arm(CEILING)
    while launcher.pulse.state is not LauncherState.ARMED:
        await anyio.sleep(0.1)


async def loss(launcher: WireLauncher) -> str:
    """What the host is told of the end of its link."""
    async for event in launcher.events():
        if isinstance(event, LinkLost):
            return event.detail
    raise AssertionError("the events ended without a word")


@pytest.mark.parametrize("deaf_to", [b"nothing", b" BOOT "], ids=["by its word", "by its beat"])
def test_a_restarted_launcher_is_another_one(deaf_to: bytes) -> None:
    """Its memory of feeds is gone. The line that says so may be lost: a beat tells it too."""

    async def script(bus: Bus) -> None:
        async with open_launcher(bus.tap(), OPTIONS, "bus", trust=Trust.PLAIN) as launcher:
            bus.stand_in.end.power_cycle(anyio.current_time())
            bus.driven.flush()
            assert "restarted" in await loss(launcher)
            with pytest.raises(LauncherError):
                await launcher.status()

    on_bus(script, deaf_to)


def test_a_launcher_that_somebody_else_opened_is_lost() -> None:
    """His feeds and ours would be told apart by nobody."""

    async def script(bus: Bus) -> None:
        async with open_launcher(bus.tap(), OPTIONS, "first", 1, trust=Trust.PLAIN) as first:
            await armed(first)
            async with open_launcher(bus.tap(), OPTIONS, "second", 2**20, trust=Trust.PLAIN):
                assert "opened by another connection" in await loss(first)

    on_bus(script)


@pytest.mark.parametrize("how", ["left", "broken", "cancelled"])
def test_whoever_leaves_stops_the_launcher_first(how: str) -> None:
    """Not its watchdog, most of a second later: the host itself, before it lets go."""

    async def use(bus: Bus) -> None:
        async with open_launcher(bus.tap(), OPTIONS, "bus", trust=Trust.PLAIN) as launcher:
            await armed(launcher)
            if how == "broken":
                raise ZeroDivisionError
            if how == "cancelled":
                await anyio.sleep_forever()

    async def script(bus: Bus) -> None:
        with anyio.move_on_after(10.0):
            try:
                await use(bus)
            except ZeroDivisionError:
                assert how == "broken"
        assert bus.stand_in.end.machine.state in (LauncherState.STOPPING, LauncherState.SAFE)

    on_bus(script)
