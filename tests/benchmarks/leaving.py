"""When balls leave, against when they should: the compiled firmware in real time, a bad host.

Run by hand: `python tests/benchmarks/leaving.py [--balls N] [--gap S] [--load] [--stall MS]`, or
with `--keyed` for what a keyed line costs the controller.

Both hosts run against the same image (simavr, AVR clock) one after the other, and both suffer the
same: every 50 to 150 ms their interpreter stalls for up to `--stall` ms, and with `--load` two busy
processes take both cores. *Scheduled* is the project's driver: feeds queued two ahead with their
moment. *Plain* is a loop of `time.sleep` and a write that asks for each ball when its time has
come. The deviation is of the moment the ball passes the sensor, in cycles of the AVR, from an even
row.
"""

from __future__ import annotations

import argparse
import random
import statistics
import sys
import tempfile
import threading
import time
from collections.abc import Callable
from pathlib import Path

import anyio

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from feedscript_drivers.setting_up.board_file import read_board
from feedscript_drivers.setting_up.set_up import set_up
from feedscript_drivers.transports.serial_port import connect

from feedscript.launcher.port import (
    CommandRefusedError,
    ConnectOptions,
    LauncherState,
    ScheduledFeed,
)
from feedscript.launcher.setting import Setting
from tests.benchmarks.link import loaded
from tests.firmware.far_end import FIRMWARE, REAL_TIME, STEPPED, FarEnd, make
from tests.firmware.plain_host import PlainHost, tag
from tests.firmware.virtual_link import garage

SETTING = Setting(drives=(1500.0, 1500.0), pan_deg=0.0, tilt_deg=5.0)
FIELDS = "1500 1500 0 0 500 0"
LEAD_MS = 180
FIRST_S = 5.0


class Staller:
    """Holds the interpreter for random stretches, as a busy or swapping host would."""

    def __init__(self, most_ms: float) -> None:
        self._most_s = most_ms / 1000
        self._ends = threading.Event()
        self._thread = threading.Thread(target=self._stall, daemon=True)
        # Another thread gets its turn only when this one lets go of the interpreter.
        sys.setswitchinterval(max(self._most_s, 0.005))
        self._thread.start()

    def _stall(self) -> None:
        chance = random.Random(1)
        while not self._ends.wait(chance.uniform(0.05, 0.15)):
            until = time.perf_counter() + chance.uniform(0, self._most_s)
            while time.perf_counter() < until:
                pass

    def end(self) -> None:
        self._ends.set()
        self._thread.join()
        sys.setswitchinterval(0.005)


async def arm(far: FarEnd, launcher) -> None:
    far.set("arm_switch", 0)
    await anyio.sleep(0.3)
    await launcher.arm(SETTING.drives)
    await anyio.sleep(0.2)
    far.set("arm_switch", 1)
    while (await launcher.status()).state is not LauncherState.ARMED:
        await anyio.sleep(0.05)
    await launcher.prepare(SETTING)
    await anyio.sleep(5.0)  # before the first move since power-up the longest way is allowed for


async def until_all_left(far: FarEnd, balls: int) -> None:
    """The image's clock may have slipped behind the host's if the machine was overloaded."""
    for _ in range(100):
        if far.get()["balls"] >= balls:
            return
        await anyio.sleep(0.1)


async def scheduled(far: FarEnd, balls: int, gap_s: float, stall_ms: float) -> None:
    """The project's driver, two feeds ahead."""
    async with connect(far.pty, ConnectOptions(profile=garage(), session=1)) as launcher:
        await arm(far, launcher)
        staller = Staller(stall_ms)
        try:
            first_s = anyio.current_time() + FIRST_S
            offset_s = (await launcher.measure_clock()).offset_s
            for number in range(balls):
                moment_s = first_s + number * gap_s
                await anyio.sleep_until(moment_s - 2 * gap_s)
                await launcher.schedule(
                    ScheduledFeed(
                        feed_id=number + 1, setting=SETTING, leave_at_device_s=moment_s + offset_s
                    )
                )
            await until_all_left(far, balls)
        except CommandRefusedError as refused:
            print(f"scheduled: {refused.diagnostic.message}")
        finally:
            staller.end()


async def plain(far: FarEnd, balls: int, gap_s: float, stall_ms: float) -> None:
    """A loop of sleep and write: each ball is asked for, as soon as may be, when it is due."""
    async with connect(far.pty, ConnectOptions(profile=garage(), session=2)) as launcher:
        await arm(far, launcher)
        offset_s = (await launcher.measure_clock()).offset_s
        staller = Staller(stall_ms)

        def loop() -> None:
            for number in range(balls):
                time.sleep(gap_s)
                leave_s = time.monotonic() + offset_s + LEAD_MS / 1000 + 0.25
                feed = ScheduledFeed(feed_id=number + 1, setting=SETTING, leave_at_device_s=leave_s)
                anyio.from_thread.run(launcher.schedule, feed)

        try:
            await anyio.to_thread.run_sync(loop)
            await until_all_left(far, balls)
        except CommandRefusedError as refused:
            print(f"plain: {refused.diagnostic.message} (silent for longer than 0.7 s?)")
        finally:
            staller.end()


def deviations_ms(moments_s: list[float], gap_s: float) -> list[float]:
    """From the even row that fits the moments best (its start; the gap is the plan's)."""
    starts = [at - number * gap_s for number, at in enumerate(moments_s)]
    start = statistics.median(starts)
    return sorted(abs(each - start) * 1000 for each in starts)


def measure(host: Callable, memory: Path, options: argparse.Namespace) -> tuple[str, int]:
    with FarEnd("avr", pace=REAL_TIME, memory=memory) as far:
        anyio.run(host, far, options.balls, options.gap, options.stall)
        moments = [leave["at_s"] for leave in far.leaves()]
    if not moments:
        return f"{host.__name__:<10}    0 balls: the launcher had stopped before the first", 0
    late = deviations_ms(moments, options.gap)
    return (
        f"{host.__name__:<10} {len(moments):>4} balls   median {statistics.median(late):7.2f} ms"
        f"   99th percentile {late[int(len(late) * 0.99) - 1]:7.2f} ms   worst {late[-1]:7.2f} ms"
    ), len(moments)


async def _configured(far: FarEnd, gap_s: float) -> None:
    board = read_board(FIRMWARE / "board-example.toml").numbers
    board[10] = min(1800, round(gap_s * 500))  # the plain loop's gaps are uneven
    async with connect(far.pty, ConnectOptions(profile=garage(), session=3)) as launcher:
        await set_up(launcher, garage(), board)


def keyed_cost() -> None:
    """From a line's last byte to its answer's first, plain and keyed, in simulated time."""
    key = bytes(range(32))
    with FarEnd("avr", pace=STEPPED) as far, PlainHost(far) as host:
        host.open()
        host.must(f"PAIR {key.hex()}", wait=800)
        boot, counter = (int(word) for word in host.must("HELLO 2 2")[1:3])

        def answer_ms(line: bytes) -> float:
            host.advance(50)
            before = far.get()["sent"]
            host.write(line)
            while far.run(0.05, host.written)["queued_bytes"] or not far.get()["received"]:
                pass
            heard = far.get()["last_byte_us"]
            while far.run(0.05)["sent"] == before:
                pass
            return (far.get()["now_us"] - heard) / 1000

        from tests.firmware.plain_host import plain as plain_line

        unkeyed = answer_ms(plain_line("T 1 1"))
        host.take = lambda _line: None  # type: ignore[method-assign]
        body = "50000 OPEN 9 77"
        counter += 1
        host.write(f"{body}#{counter:08X}{tag(key, 'H', boot, 0, counter, body)}\n".encode())
        host.advance(100)
        counter += 1
        body = "T 1 1"
        line = f"{body}#{counter:08X}{tag(key, 'H', boot, 77, counter, body)}\n".encode()
        print(f"heartbeat answered after: plain {unkeyed:.2f} ms, keyed {answer_ms(line):.2f} ms")


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--balls", type=int, default=100)
    parser.add_argument("--gap", type=float, default=1.0)
    parser.add_argument("--stall", type=float, default=40.0, help="longest stall, ms")
    parser.add_argument("--load", action="store_true", help="two busy processes beside it")
    parser.add_argument("--keyed", action="store_true")
    options = parser.parse_args()
    make("all")
    if options.keyed:
        keyed_cost()
        return
    with tempfile.TemporaryDirectory() as folder:
        memory = Path(folder) / "memory"
        with FarEnd("avr", pace=REAL_TIME) as far:
            anyio.run(_configured, far, options.gap)
            far.save(memory)
        with loaded(2 * options.load):
            for host in (scheduled, plain):
                print(measure(host, memory, options)[0], flush=True)


if __name__ == "__main__":
    main()
