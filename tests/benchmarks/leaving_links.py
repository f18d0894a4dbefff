"""When balls leave, against the plan, over a pty and over virtual Bluetooth: ours and a plain loop.

    python tests/benchmarks/leaving_links.py [--balls 80] [--gap 2] [--load] [--only pty|ble]

Over each link both hosts run at the same time against a stand-in of their own, every one of the
four in a process of its own. *Ours* queues two feeds ahead with their moment by the launcher's
clock; the *plain loop* sleeps and writes, and its ball leaves when the line arrives. `ble` is
bleak's own Linux backend, a stand-in for the D-Bus service, and a bumble peripheral over a virtual
radio. With `--load` two busy processes take both cores. `leaving.py` does the same on the compiled
firmware.

A deviation is the moment of leaving less the moment of the plan, both by the machine's one
monotonic clock; the plain loop's plan is its first ball and an even row from there. For ours it is
said twice: *by the launcher's clock*, which holds the measured offset's error and is what a
controller with a timer of its own keeps, and *as carried out*, which adds how late the stand-in's
process, a program like any other, was let run.
"""

from __future__ import annotations

import argparse
import contextlib
import os
import sys
import threading
import time
from collections.abc import AsyncIterator, Callable
from contextlib import AbstractAsyncContextManager
from dataclasses import dataclass
from functools import partial
from multiprocessing.connection import Connection
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

import anyio
import serial
from anyio.abc import ByteStream
from feedscript_drivers.transports import ble, serial_port
from feedscript_simulator.links.driven import Driven
from feedscript_simulator.links.on_pty import on_pty
from feedscript_simulator.stand_in import StandIn, build

from feedscript.launcher.port import (
    CommandRefusedError,
    ConnectOptions,
    LauncherPort,
    LauncherState,
    Left,
    ScheduledFeed,
    StateChanged,
)
from feedscript.launcher.setting import Setting
from tests.benchmarks.link import PROFILE, SPAWN, cuts, in_process_of_its_own, loaded, machine
from tests.drivers.virtual_ble.on_air import on_air

SETTING = Setting(drives=(1200.0, 1200.0), pan_deg=0.0, tilt_deg=5.0)
KEY = bytes(range(32))
FEED = b"FEED\n"  # the plain loop's line
FIRST_S = 6.0


@contextlib.asynccontextmanager
async def by_cable(stand_in: StandIn) -> AsyncIterator[str]:
    async with on_pty(stand_in) as device:
        yield device


@contextlib.asynccontextmanager
async def by_radio(stand_in: StandIn) -> AsyncIterator[str]:
    """The name and, behind a blank, the bus on which it is found."""
    async with on_air(stand_in) as name:
        yield f"{name} {os.environ['DBUS_SYSTEM_BUS_ADDRESS']}"


def far_end(carry: Callable[[StandIn], AbstractAsyncContextManager[str]], pipe: Connection) -> None:
    """A stand-in that tells when it was switched on, when each ball left and each FEED came."""
    plain_receive = Driven.receive

    def receive(self: Driven, data: bytes) -> None:
        if data == FEED:
            pipe.send(("feed", time.monotonic()))
        else:
            plain_receive(self, data)

    def watch(word: str, numbers: str) -> None:
        if word == "LEFT":
            pipe.send(("left", time.monotonic()))

    async def serve() -> None:
        powered_s = anyio.current_time()
        is_cable = carry is by_cable
        stand_in = build(
            PROFILE,
            powered_s=powered_s,
            cable=is_cable,
            key=None if is_cable else KEY,
            watch=watch,
        )
        async with carry(stand_in) as address:
            pipe.send(address)
            pipe.send(("powered", powered_s))
            await anyio.sleep_forever()

    Driven.receive = receive  # type: ignore[method-assign]
    anyio.run(serve)


def cable_end(pipe: Connection) -> None:
    far_end(by_cable, pipe)


def radio_end(pipe: Connection) -> None:
    far_end(by_radio, pipe)


@dataclass(frozen=True, slots=True)
class Way:
    """One kind of link: its far end, and how each host opens it."""

    name: str
    end: Callable[[Connection], None]
    connect: Callable[[str, ConnectOptions], AbstractAsyncContextManager[LauncherPort]]
    open_bytes: Callable[[str], AbstractAsyncContextManager[ByteStream]]
    key: bytes | None


@contextlib.asynccontextmanager
async def bare_port(device: str) -> AsyncIterator[ByteStream]:
    with serial.Serial(device, 115200, timeout=0) as port:
        yield serial_port.SerialStream(port)


WAYS = {
    "pty": Way("pty", cable_end, serial_port.connect, bare_port, None),
    "ble": Way("ble", radio_end, ble.connect, ble.radio_link, KEY),
}


async def ours(way: Way, name: str, balls: int, gap_s: float) -> tuple[list[float], list[float]]:
    """The planned moments by the host's clock, and those of leaving by the launcher's."""
    options = ConnectOptions(profile=PROFILE, session=1, key=way.key)
    left = []
    async with way.connect(name, options) as launcher:
        await launcher.arm(SETTING.drives)
        await anyio.sleep(3.0)  # the stand-in's own person turns the switch
        await launcher.prepare(SETTING)
        offset_s = (await launcher.measure_clock()).offset_s
        first_s = anyio.current_time() + FIRST_S
        planned = [first_s + number * gap_s for number in range(balls)]

        async def feed() -> None:
            for number, moment_s in enumerate(planned):
                await anyio.sleep_until(moment_s - 2 * gap_s)
                leave_s = moment_s + offset_s
                ball = ScheduledFeed(feed_id=number + 1, setting=SETTING, leave_at_device_s=leave_s)
                with contextlib.suppress(CommandRefusedError):  # it stopped; its event says so
                    await launcher.schedule(ball)

        async with anyio.create_task_group() as tasks:
            tasks.start_soon(feed)
            async for event in launcher.events():
                if isinstance(event, Left):
                    left.append(event.device_s)
                elif isinstance(event, StateChanged) and event.state is LauncherState.STOPPING:
                    print(f"{way.name}: stopped after {len(left)} balls ({event.reason})")
                    break
                if len(left) == balls:
                    break
            tasks.cancel_scope.cancel()
    return planned[: len(left)], left


async def plain(way: Way, name: str, balls: int, gap_s: float) -> None:
    """Sleep and write, and nothing else."""
    async with way.open_bytes(name) as stream:
        for _ in range(balls):
            time.sleep(gap_s)
            await stream.send(FEED)


def host(way: str, run: Callable, address: str, balls: int, gap_s: float, out: Connection) -> None:
    """One host in a process of its own."""
    name, _, bus = address.partition(" ")
    if bus:
        os.environ["DBUS_SYSTEM_BUS_ADDRESS"] = bus
    out.send(anyio.run(partial(run, WAYS[way], name, balls, gap_s)))


@dataclass(slots=True)
class Told:
    """What a far end tells, taken from its pipe as it comes."""

    powered_s: float
    left: list[float]
    came: list[float]


def listen(pipe: Connection) -> Told:
    told = Told(pipe.recv()[1], [], [])

    def read() -> None:
        with contextlib.suppress(EOFError, OSError):
            while True:
                what, at_s = pipe.recv()
                (told.left if what == "left" else told.came).append(at_s)

    threading.Thread(target=read, daemon=True).start()
    return told


def measure(way: Way, balls: int, gap_s: float) -> None:
    ends = [in_process_of_its_own(way.end) for _ in range(2)]
    tolds = [listen(pipe) for _, _, pipe in ends]
    pipes, hosts = [], []
    for run, (_, address, _) in zip((ours, plain), ends, strict=True):
        mine, theirs = SPAWN.Pipe()
        arguments = (way.name, run, address, balls, gap_s, theirs)
        hosts.append(SPAWN.Process(target=host, args=arguments, daemon=True))
        hosts[-1].start()
        pipes.append(mine)
    try:
        planned, left = pipes[0].recv()
        pipes[1].recv()
        time.sleep(0.5)
    finally:
        for process in [*hosts, *(end for end, _, _ in ends)]:
            process.kill()
            process.join()
    say(
        f"{way.name}, ours by the launcher's clock", [tolds[0].powered_s + s for s in left], planned
    )
    say(f"{way.name}, ours as carried out", tolds[0].left, planned)
    row = [tolds[1].came[0] + number * gap_s for number in range(len(tolds[1].came))]
    say(f"{way.name}, plain loop", tolds[1].came, row)


def say(what: str, moments: list[float], planned: list[float]) -> None:
    late = [abs(moment - due) for moment, due in zip(moments, planned, strict=False)]
    print(
        f"{what + ':':<38} {len(late)} balls, {cuts(late)}, worst {max(late) * 1e3:.3f} ms",
        flush=True,
    )


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--balls", type=int, default=80, help="a hopper holds 80")
    parser.add_argument("--gap", type=float, default=2.0, help="seconds")
    parser.add_argument("--load", action="store_true", help="two busy processes beside it")
    parser.add_argument("--only", choices=tuple(WAYS))
    chosen = parser.parse_args()
    for name, way in WAYS.items():
        if chosen.only in (None, name):
            with machine(), loaded(2 * chosen.load):
                measure(way, chosen.balls, chosen.gap)


if __name__ == "__main__":
    main()
