"""A terminal window in software: a command on a real pty, and what stands on its screen.

The screen is pyte's, an emulator of the VT100 family that is independent of rich.
"""

from __future__ import annotations

import fcntl
import os
import pty
import select
import signal
import struct
import subprocess
import termios
import time
from collections.abc import Iterator, Sequence
from contextlib import contextmanager, suppress
from pathlib import Path

import pyte

#: Written by xterm and its kin to enter and leave the second screen, and to show the cursor.
SECOND_SCREEN, FIRST_SCREEN, CURSOR = b"\x1b[?1049h", b"\x1b[?1049l", b"\x1b[?25h"


class Window:
    """The screen of a command that runs in it."""

    def __init__(self, master: int, slave: int, columns: int, rows: int) -> None:
        self._master, self._slave = master, slave
        self._screen = pyte.Screen(columns, rows)
        self._stream = pyte.ByteStream(self._screen)
        self.written = b""
        self._before = termios.tcgetattr(slave)
        self.process: subprocess.Popen[bytes]

    @property
    def lines(self) -> list[str]:
        return [line.rstrip() for line in self._screen.display]

    @property
    def text(self) -> str:
        """All on the screen, in one line: a narrow window wraps words over lines."""
        return " ".join(" ".join(self.lines).split())

    def read(self, seconds: float) -> None:
        """Take what is written in this time."""
        until = time.monotonic() + seconds
        while (left := until - time.monotonic()) > 0:
            if select.select([self._master], [], [], min(left, 0.05))[0]:
                try:
                    data = os.read(self._master, 65536)
                except OSError:
                    return
                self.written += data
                self._stream.feed(data)

    def see(self, *words: str, within_s: float = 45.0) -> None:
        """Return when all the words stand on the screen at once."""
        until = time.monotonic() + within_s
        while not all(word in self.text for word in words):
            assert time.monotonic() < until, "\n".join([str(words), *self.lines])
            assert self.process.poll() is None, self.written.decode()[-2000:]
            self.read(0.05)

    def press(self, keys: str, *, after_s: float = 0.0) -> None:
        """Press keys, after a moment in which a person reads."""
        self.read(after_s)
        os.write(self._master, keys.encode())

    def resize(self, columns: int, rows: int) -> None:
        self._screen.resize(rows, columns)
        _size(self._master, columns, rows)

    def ended(self, within_s: float = 15.0) -> int:
        """Read on until the command has ended; its exit code."""
        until = time.monotonic() + within_s
        while self.process.poll() is None:
            assert time.monotonic() < until, "\n".join(self.lines)
            self.read(0.05)
        self.read(0.2)
        return self.process.returncode

    def is_given_back(self) -> bool:
        """Whether the terminal is as it was: first screen, cursor, echo and whole lines."""
        entered = self.written.rfind(SECOND_SCREEN)
        left, shown = self.written.rfind(FIRST_SCREEN), self.written.rfind(CURSOR)
        same = termios.tcgetattr(self._slave) == self._before
        return same and 0 <= entered < min(left, shown)

    def close(self) -> None:
        """Close the window; whatever runs in it is told by its signal."""
        os.close(self._slave)
        os.close(self._master)
        self._master = self._slave = -1

    @property
    def is_open(self) -> bool:
        return self._master >= 0


def _size(descriptor: int, columns: int, rows: int) -> None:
    fcntl.ioctl(descriptor, termios.TIOCSWINSZ, struct.pack("HHHH", rows, columns, 0, 0))


@contextmanager
def window(command: Sequence[str | Path], columns: int = 80, rows: int = 24) -> Iterator[Window]:
    """A window with this command in it, gone with the context."""
    master, slave = pty.openpty()
    _size(master, columns, rows)
    made = Window(master, slave, columns, rows)

    def own_the_terminal() -> None:
        os.setsid()
        # A command that a script runs in the background inherits a Ctrl-C that does nothing.
        signal.signal(signal.SIGINT, signal.SIG_DFL)
        fcntl.ioctl(0, termios.TIOCSCTTY, 0)

    environment = {k: v for k, v in os.environ.items() if k not in ("COLUMNS", "LINES", "NO_COLOR")}
    made.process = subprocess.Popen(
        [str(word) for word in command],
        stdin=slave,
        stdout=slave,
        stderr=slave,
        preexec_fn=own_the_terminal,
        env=environment | {"TERM": "xterm-256color"},
    )
    try:
        yield made
    finally:
        if made.process.poll() is None:
            made.process.send_signal(signal.SIGKILL)
        with suppress(ChildProcessError):
            made.process.wait()
        if made.is_open:
            made.close()
