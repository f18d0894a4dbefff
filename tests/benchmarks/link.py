"""Round trip of a status over a pty, against a bare pyserial echo of the same length, in one run.

By hand: `python tests/benchmarks/link.py [--loaded]`. Both far ends are processes of their own.
"""

from __future__ import annotations

import contextlib
import multiprocessing
import os
import statistics
import sys
import time
import tty
from collections.abc import Callable, Iterator
from multiprocessing.connection import Connection
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

import anyio
import serial
from feedscript_drivers.transports import serial_port
from feedscript_simulator.links.on_pty import on_pty
from feedscript_simulator.stand_in import build

from feedscript.launcher.port import ConnectOptions, LauncherPort
from feedscript.launcher.profile.read_profile import read_profile
from feedscript.shipped import shipped_folder

PROFILE = read_profile(shipped_folder() / "launchers" / "garage.toml").profile
assert PROFILE is not None
BLOCKS, BLOCK = 40, 50
SPAWN = multiprocessing.get_context("spawn")


def cuts(values: list[float]) -> str:
    hundredths = statistics.quantiles(values, n=100)
    return f"median {hundredths[49] * 1e3:7.3f} ms, 99th percentile {hundredths[98] * 1e3:7.3f} ms"


def in_process_of_its_own(
    target: Callable[..., None],
) -> tuple[multiprocessing.Process, str, Connection]:
    """A far end in another process, the pty it serves, and the pipe it tells more by."""
    ours, theirs = multiprocessing.Pipe()
    process = SPAWN.Process(target=target, args=(theirs,), daemon=True)
    process.start()
    return process, ours.recv(), ours


def echo(pipe) -> None:
    ours, theirs = os.openpty()
    tty.setraw(theirs)
    pipe.send(os.ttyname(theirs))
    while True:
        os.write(ours, os.read(ours, 4096))


def stand_in(pipe) -> None:
    async def serve() -> None:
        made = build(PROFILE, powered_s=anyio.current_time())
        async with on_pty(made) as device:
            pipe.send(device)
            await anyio.sleep_forever()

    anyio.run(serve)


def sleeper(pipe: Connection) -> None:
    """Sleeps for 5 ms again and again; by how much too long, once it is asked."""
    pipe.send("sleeps")
    late = []
    while not pipe.poll():
        began = time.monotonic()
        time.sleep(0.005)
        late.append(time.monotonic() - began - 0.005)
    pipe.send(late)


@contextlib.contextmanager
def machine() -> Iterator[None]:
    """Prints at the end how busy this machine was beside what was measured.

    The lateness of a process that only sleeps is the machine's own share in every figure of its
    run: whatever has to wake up, once or in a chain, may be as late.
    """
    process, _, pipe = in_process_of_its_own(sleeper)
    try:
        yield
        pipe.send("enough")
        late = pipe.recv()
        print(f"a sleeper beside woke late by: {cuts(late)}, worst {max(late) * 1e3:.3f} ms")
        print(f"the machine's load at the end: {os.getloadavg()[0]:.1f}")
    finally:
        process.kill()
        process.join()


def echo_trips(port: serial.Serial) -> list[float]:
    """A block of round trips of a line by pyserial alone."""
    line = b"12345 STAT*ABCD" + b" " * 40 + b"\n"
    trips = []
    for _ in range(BLOCK):
        began = time.perf_counter()
        port.write(line)
        assert port.readline() == line
        trips.append(time.perf_counter() - began)
    return trips


async def status_trips(launcher: LauncherPort) -> list[float]:
    """A block of round trips of a status by the driver."""
    trips = []
    for _ in range(BLOCK):
        began = time.perf_counter()
        await launcher.status()
        trips.append(time.perf_counter() - began)
    return trips


async def both(echoing: str, device: str) -> tuple[list[float], list[float]]:
    """The two by turns, so that whatever else the machine does falls on both alike."""
    bare: list[float] = []
    ours: list[float] = []
    options = ConnectOptions(profile=PROFILE, session=1)
    async with serial_port.connect(device, options) as launcher:
        with serial.Serial(echoing, 115200, timeout=10) as port:
            for _ in range(BLOCKS):
                bare += echo_trips(port)
                ours += await status_trips(launcher)
    return bare, ours


def burn() -> None:
    """Take a core, as long as whoever asked for it lives."""
    parent = multiprocessing.parent_process()
    while parent is not None and parent.is_alive():
        sum(range(200_000))


@contextlib.contextmanager
def loaded(hogs: int) -> Iterator[None]:
    """So many busy processes beside."""
    processes = [SPAWN.Process(target=burn, daemon=True) for _ in range(hogs)]
    for process in processes:
        process.start()
    try:
        yield
    finally:
        for process in processes:
            process.kill()
            process.join()


def main() -> None:
    with machine(), loaded(2 if "--loaded" in sys.argv else 0):
        ends = [in_process_of_its_own(end) for end in (echo, stand_in)]
        bare, ours = anyio.run(both, *(device for _, device, _ in ends))
        print(f"bare pyserial echo:   {cuts(bare)}")
        print(f"status by the driver: {cuts(ours)}")
        print(f"ratio of medians:     {statistics.median(ours) / statistics.median(bare):.2f}")


if __name__ == "__main__":
    main()
