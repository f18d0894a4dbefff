"""Times of the link over a pty, by hand: `python tests/benchmarks/link.py [--loaded]`.

1. Round trip of a status through the driver, against a bare pyserial echo of the same length.
2. From calling stop to its byte on the wire, with status traffic and a busy thread beside it.
3. Moments of leaving against the plan, ours (the launcher's clock) and a plain loop of
   `time.sleep` and `write`, in one run.
"""

from __future__ import annotations

import multiprocessing
import os
import statistics
import sys
import threading
import time
import tty
from collections.abc import Callable
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

import anyio
import serial
from feedscript_drivers import serial_port
from feedscript_simulator.on_pty import on_pty
from feedscript_simulator.stand_in import build

from feedscript.launcher.port import ConnectOptions, ScheduledFeed, StopCategory
from feedscript.launcher.profile_file import read_profile
from feedscript.launcher.setting import Setting
from feedscript.shipped import shipped_folder

PROFILE = read_profile(shipped_folder() / "launchers" / "garage.toml").profile
assert PROFILE is not None
SETTING = Setting(drives=(1200.0, 1200.0), pan_deg=0.0, tilt_deg=5.0)
TRIPS = 2000
BALLS = 20
GAP_S = 2.0


def cuts(values: list[float]) -> str:
    hundredths = statistics.quantiles(values, n=100)
    return f"median {hundredths[49] * 1e3:7.3f} ms, 99th percentile {hundredths[98] * 1e3:7.3f} ms"


def in_process_of_its_own(target: Callable[..., None]) -> tuple[multiprocessing.Process, str]:
    """A far end in another process, and the pty it serves."""
    ours, theirs = multiprocessing.Pipe()
    process = multiprocessing.get_context("spawn").Process(target=target, args=(theirs,))
    process.start()
    return process, ours.recv()


def echo(pipe) -> None:
    ours, theirs = os.openpty()
    tty.setraw(theirs)
    pipe.send(os.ttyname(theirs))
    while True:
        os.write(ours, os.read(ours, 4096))


def launcher(pipe) -> None:
    async def serve() -> None:
        stand_in = build(PROFILE, powered_s=anyio.current_time())
        async with on_pty(stand_in) as device:
            pipe.send(device)
            await anyio.sleep_forever()

    anyio.run(serve)


def plain_far_end(pipe) -> None:
    """Answers nothing; notes when each byte came, by the one clock of this machine."""
    ours, theirs = os.openpty()
    tty.setraw(theirs)
    pipe.send(os.ttyname(theirs))
    seen = []
    while len(seen) < BALLS:
        os.read(ours, 64)
        seen.append(time.monotonic())
    pipe.send(seen)


def echo_trips() -> list[float]:
    process, device = in_process_of_its_own(echo)
    trips = []
    with serial.Serial(device, 115200, timeout=1) as port:
        line = b"12345 STAT*ABCD" + b" " * 40 + b"\n"
        for _ in range(TRIPS):
            began = time.perf_counter()
            port.write(line)
            assert port.readline() == line
            trips.append(time.perf_counter() - began)
    process.kill()
    process.join()
    return trips


async def status_trips(device: str) -> list[float]:
    trips = []
    async with serial_port.connect(device, ConnectOptions(profile=PROFILE, session=1)) as port:
        for _ in range(TRIPS):
            began = time.perf_counter()
            await port.status()
            trips.append(time.perf_counter() - began)
    return trips


async def stop_times(device: str) -> list[float]:
    """From the call to the write of the stop character, beside other work in the same process."""
    written: list[float] = []
    plain_put = serial_port.SerialStream._put

    def note(self: serial_port.SerialStream, data: bytes) -> int:
        if data[:1] == b"\x03":
            written.append(time.perf_counter())
        return plain_put(self, data)

    serial_port.SerialStream._put = note
    busy = threading.Event()
    threading.Thread(target=_work, args=(busy,), daemon=True).start()
    times = []
    options = ConnectOptions(profile=PROFILE, session=2)
    async with serial_port.connect(device, options) as port, anyio.create_task_group() as tasks:
        tasks.start_soon(_ask_for_ever, port)
        for _ in range(300):
            await anyio.sleep(0.01)
            began = time.perf_counter()
            await port.stop(StopCategory.RUN_DOWN)
            times.append(written[-1] - began)
        tasks.cancel_scope.cancel()
    busy.set()
    serial_port.SerialStream._put = plain_put
    return times


def _work(done: threading.Event) -> None:
    """A check running beside: Python that holds the interpreter."""
    while not done.is_set():
        sum(range(20_000))


def _burn() -> None:
    while True:
        sum(range(100_000))


async def _ask_for_ever(port) -> None:
    from feedscript.launcher.port import LauncherError

    while True:
        try:
            await port.status()
        except LauncherError:
            await anyio.sleep(0.001)  # given up for a stop, as it must be


async def leaving(device: str) -> list[float]:
    late = []
    async with serial_port.connect(device, ConnectOptions(profile=PROFILE, session=3)) as port:
        await port.arm((1200.0, 1200.0))
        await anyio.sleep(2.5)
        await port.prepare(SETTING)
        clock = await port.measure_clock()
        first = anyio.current_time() + 3.0
        planned = {n: first + n * GAP_S + clock.offset_s for n in range(1, BALLS + 1)}

        async def feed() -> None:
            for number, moment in planned.items():
                await port.schedule(
                    ScheduledFeed(feed_id=number, setting=SETTING, leave_at_device_s=moment)
                )
                await anyio.sleep_until(first + (number - 1) * GAP_S)

        async with anyio.create_task_group() as tasks:
            tasks.start_soon(feed)
            async for event in port.events():
                number = getattr(event, "feed_id", None)
                if number is not None:
                    late.append(abs(event.device_s - planned[number]))
                    if number == BALLS:
                        break
            tasks.cancel_scope.cancel()
    return late


def plain_loop() -> list[float]:
    ours, theirs = multiprocessing.Pipe()
    process = multiprocessing.get_context("spawn").Process(target=plain_far_end, args=(theirs,))
    process.start()
    planned = []
    with serial.Serial(ours.recv(), 115200) as port:
        for _ in range(BALLS):
            time.sleep(GAP_S)
            planned.append((planned[-1] if planned else time.monotonic() - GAP_S) + GAP_S)
            port.write(b"FEED\n")
        seen = ours.recv()
    process.join()
    return [abs(came - moment) for came, moment in zip(seen, planned, strict=True)]


def main() -> None:
    spawn = multiprocessing.get_context("spawn")
    hogs = [spawn.Process(target=_burn) for _ in range(2 if "--loaded" in sys.argv else 0)]
    for hog in hogs:
        hog.start()
    bare = echo_trips()
    process, device = in_process_of_its_own(launcher)
    ours = anyio.run(status_trips, device)
    print(f"bare pyserial echo:   {cuts(bare)}")
    print(f"status by the driver: {cuts(ours)}")
    print(f"ratio of medians:     {statistics.median(ours) / statistics.median(bare):.2f}")
    print(f"stop to the wire:     {cuts(anyio.run(stop_times, device))}")
    process.kill()
    process.join()
    process, device = in_process_of_its_own(launcher)
    print(f"leaving, ours:        {cuts(anyio.run(leaving, device))}")
    process.kill()
    process.join()
    print(f"leaving, plain loop:  {cuts(plain_loop())}")
    for hog in hogs:
        hog.kill()


if __name__ == "__main__":
    main()
