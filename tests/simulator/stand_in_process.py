"""The stand-in and a feeding host as processes of their own, for tests that kill one of them."""

from __future__ import annotations

import json
import queue
import subprocess
import sys
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any, TypeAlias

from tests.documents.held import strays

Process: TypeAlias = "subprocess.Popen[str]"
FEEDSCRIPT = [sys.executable, "-c", "from feedscript.cli import main; main()"]

#: A host that arms, and feeds a ball every 1.2 s for ever.
HOST = """
import sys, anyio
from feedscript.launcher.port import ConnectOptions, ScheduledFeed
from feedscript.launcher.profile.read_profile import read_profile
from feedscript.launcher.setting import Setting
from feedscript.launcher.discovery import driver_for
from feedscript.shipped import shipped_folder
profile = read_profile(shipped_folder() / "launchers" / "garage.toml").profile
setting = Setting(drives=(1500.0, 1500.0), pan_deg=0.0, tilt_deg=5.0)
async def main():
    connect, address = driver_for(sys.argv[1])
    async with connect(address.rest, ConnectOptions(profile=profile, session=5)) as launcher:
        await launcher.arm((1500.0, 1500.0))
        async for event in launcher.events():
            if getattr(event, "state", None) == "armed":
                break
        await launcher.prepare(setting)
        clock = await launcher.measure_clock()
        at = anyio.current_time() + 4.0
        for feed_id in range(1, 1000):
            await launcher.schedule(ScheduledFeed(
                feed_id=feed_id, setting=setting, leave_at_device_s=at + clock.offset_s))
            print("scheduled", feed_id, flush=True)
            at += 2.5
            await anyio.sleep_until(at - 3.0)
anyio.run(main)
"""


class Lines:
    """The JSON lines of a process, waited for with a limit."""

    def __init__(self, process: subprocess.Popen[str]) -> None:
        self.seen: list[dict[str, Any]] = []
        self._queue: queue.Queue[str] = queue.Queue()
        self._thread = threading.Thread(target=self._read, args=(process,), daemon=True)
        self._thread.start()

    def _read(self, process: subprocess.Popen[str]) -> None:
        assert process.stdout is not None
        for line in process.stdout:
            self._queue.put(line)

    def wait_for(self, timeout_s: float = 20.0, **facts: Any) -> dict[str, Any]:
        """The next line that states these facts."""
        while True:
            line = json.loads(self._queue.get(timeout=timeout_s))
            self.seen.append(line)
            if all(line.get(name) == value for name, value in facts.items()):
                return line

    def so_far(self) -> list[dict[str, Any]]:
        """Every line that has come until now."""
        while not self._queue.empty():
            self.seen.append(json.loads(self._queue.get()))
        return self.seen

    def drain(self) -> list[dict[str, Any]]:
        self._thread.join(timeout=5)
        return self.so_far()


@contextmanager
def stand_in(*arguments: str) -> Iterator[tuple[Process, Lines, str]]:
    """A stand-in process; yields it, its lines and the address to use."""
    command = [*FEEDSCRIPT, "stand-in", "--arms-by-itself", "--format", "json", *arguments]
    with running(command) as (process, lines, address):
        yield process, lines, address
    assert [stray for line in lines.seen for stray in strays(line)] == []


@contextmanager
def running(command: list[str]) -> Iterator[tuple[Process, Lines, str]]:
    """The same, however the process is started."""
    process = subprocess.Popen(
        command,
        stdout=subprocess.PIPE,
        stdin=subprocess.DEVNULL,
        text=True,
    )
    lines = Lines(process)
    try:
        yield process, lines, lines.wait_for(event="ready")["address"]
    finally:
        if process.poll() is None:
            process.terminate()
        process.wait(timeout=10)
        lines.drain()
        assert process.stdout is not None
        process.stdout.close()
