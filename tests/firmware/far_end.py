"""The firmware's images as processes: built from source, run on a pty, driven by the test.

Three images answer to the same handle: ``avr`` is the compiled ATmega328P image under simavr,
``rp2040`` the compiled RP2040 image under rp2040js, ``posix`` the same core as an ordinary process,
built with sanitizers. All have the same mechanics on their pins.
"""

from __future__ import annotations

import fcntl
import json
import os
import subprocess
from pathlib import Path
from types import TracebackType
from typing import Any

FIRMWARE = Path(__file__).resolve().parents[2] / "drivers" / "firmware"
BUILD = FIRMWARE / "build"
IMAGES = ("avr", "posix", "rp2040")
#: Those that are a chip, with a watchdog of its own.
CHIPS = ("avr", "rp2040")
#: What the file of each is called; another build of the same board may be run in its place.
BUILT = {"avr": "launcher.elf", "posix": "launcher-checked", "rp2040": "launcher.bin"}

REAL_TIME = 1.0
STEPPED = -1.0


def make(*goals: str) -> str:
    """Run make in the firmware's folder, one process at a time; its output, or a failed test."""
    BUILD.mkdir(exist_ok=True)
    with (BUILD / ".lock").open("w") as lock:
        fcntl.flock(lock, fcntl.LOCK_EX)
        done = subprocess.run(
            ["make", "-C", str(FIRMWARE), *goals], capture_output=True, text=True, check=False
        )
    if done.returncode != 0:
        raise AssertionError(f"make {' '.join(goals)} failed:\n{done.stdout}\n{done.stderr}")
    return done.stdout


class FarEnd:
    """One running image. ``pty`` is its serial device; the other methods are its console."""

    def __init__(
        self,
        image: str,
        *,
        pace: float = STEPPED,
        memory: Path | None = None,
        built: Path | None = None,
    ) -> None:
        runner = [str(BUILD / image)] if image in CHIPS else []
        program = [*runner, str(built or BUILD / BUILT[image])]
        options = ["--pace", str(pace)]
        if memory is not None:
            options += ["--memory", str(memory)]
        self.image = image
        self.process = subprocess.Popen(
            [program[0], *options, *program[1:]],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            text=True,
            bufsize=1,
        )
        hello = self._answer()
        self.pty: str = hello["pty"]
        self.radio: str = hello["radio"]  # its second link, where it has one

    def _answer(self) -> dict[str, Any]:
        assert self.process.stdout is not None
        line = self.process.stdout.readline()
        if not line:
            raise AssertionError(f"{self.image} image ended with {self.process.wait(5)}")
        answer: dict[str, Any] = json.loads(line)
        return answer

    def tell(self, command: str) -> dict[str, Any]:
        """Send one console command and return its answer; a refused one fails the test."""
        assert self.process.stdin is not None
        self.process.stdin.write(command + "\n")
        answer = self._answer()
        assert answer.get("ok", True), f"console refused {command!r}"
        return answer

    def set(self, name: str, value: float) -> None:
        """Set a switch, a part of the mechanics, or a fault of the cable."""
        self.tell(f"set {name} {value}")

    def get(self) -> dict[str, Any]:
        """What the pins and the mechanics show now."""
        return self.tell("get")

    def run(self, milliseconds: float, after_bytes: int = 0, link: int = 0) -> dict[str, Any]:
        """Move a stepped image on, and return what the pins show then.

        A pty hands bytes over when the kernel finds the time; with ``after_bytes``, the number of
        bytes that the host has written on this link so far, the run begins when they have come.
        """
        return self.tell(f"run {milliseconds} {after_bytes} {link}")

    def leaves(self) -> list[dict[str, Any]]:
        """Every ball that passed the sensor: when, at which wheel speeds, pointing where."""
        rows: list[dict[str, Any]] = self.tell("leaves")["leaves"]
        return rows

    def save(self, path: Path) -> None:
        """Write the non-volatile memory to a file."""
        self.tell(f"save {path}")

    def close(self) -> None:
        """End the process."""
        assert self.process.stdin is not None
        assert self.process.stdout is not None
        self.process.stdin.close()
        self.process.wait(5)
        self.process.stdout.close()

    def __enter__(self) -> FarEnd:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.close()


def open_raw(pty: str) -> int:
    """The near side of a pty, raw, not blocking."""
    import termios
    import tty

    descriptor = os.open(pty, os.O_RDWR | os.O_NOCTTY | os.O_NONBLOCK)
    tty.setraw(descriptor, termios.TCSANOW)
    return descriptor
