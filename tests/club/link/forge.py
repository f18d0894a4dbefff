"""Courts' computers and servers that begin at once: each is forked off a process that has imported
everything already, and may be killed.

Started as ``python -m tests.club.link.forge``; it is told its commands as lines of JSON. For one
thread's use.
"""

from __future__ import annotations

import importlib
import os
import signal
import subprocess
import sys
import time
import traceback
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from types import FrameType
from typing import NoReturn

import msgspec

#: What the commands and the tests' programs import as they go.
AHEAD = (
    "uvicorn",
    "feedscript.club.intake",
    "feedscript.club.link.beside",
    "feedscript.club.link.catch_up",
    "feedscript.club.link.fetch",
    "feedscript.session.engine.connect",
    "feedscript.terminal.run",
    "feedscript_simulator",
)


class Command(msgspec.Struct, frozen=True, kw_only=True):
    """Words of ``feedscript``, or of this ``program`` in Python. Its clock is ``off_s`` wrong from
    the moment on that SIGUSR1 tells it."""

    words: list[str]
    program: str = ""
    env: dict[str, str] = {}
    out: str = os.devnull
    off_s: float = 0.0


class Forge:
    """From the tests' side."""

    def __init__(self, process: subprocess.Popen[str]) -> None:
        self._process = process

    def begin(self, command: Command) -> int:
        """The number of its process."""
        return self._say(msgspec.json.encode(command).decode())

    def wait(self, process: int) -> int:
        """Its exit code, or minus the signal that killed it."""
        return self._say(str(process))

    def _say(self, told: str) -> int:
        assert self._process.stdin is not None
        assert self._process.stdout is not None
        self._process.stdin.write(f"{told}\n")
        self._process.stdin.flush()
        return int(self._process.stdout.readline())


@contextmanager
def forge(checked: str = "") -> Iterator[Forge]:
    """One that has checked this lesson already: its commands need not work all of it out."""
    words = [sys.executable, "-m", "tests.club.link.forge", checked]
    with subprocess.Popen(
        words, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True
    ) as process:
        assert process.stdout is not None
        assert "ready\n" in iter(process.stdout.readline, "")
        try:
            yield Forge(process)
        finally:
            assert process.stdin is not None
            process.stdin.close()


def _child(command: Command) -> NoReturn:
    true_time = time.time

    def jumps(_signal: int, _frame: FrameType | None) -> None:
        time.time = lambda: true_time() + command.off_s

    signal.signal(signal.SIGUSR1, jumps)
    os.environ.update(command.env)
    out = os.open(command.out, os.O_WRONLY | os.O_CREAT | os.O_TRUNC)
    for number, file in enumerate((os.open(os.devnull, os.O_RDONLY), out, out)):
        os.dup2(file, number)
    code = 1
    try:
        _run(command)
        code = 0
    except SystemExit as ended:
        code = int(ended.code or 0)
    except BaseException:  # noqa: BLE001 (the rim of the process)
        traceback.print_exc()
    finally:
        sys.stdout.flush()
        os._exit(code)


def _run(command: Command) -> None:
    from feedscript.cli import verbs

    if command.program:
        sys.argv = ["-c", *command.words]
        exec(command.program, {"__name__": "__main__"})
    else:
        verbs(command.words, standalone_mode=False)


def main() -> None:
    from feedscript.cli import verbs

    for name in AHEAD:
        importlib.import_module(name)
    if sys.argv[1]:
        with suppress(SystemExit):
            verbs(["check", sys.argv[1]], standalone_mode=False)
    print("ready", flush=True)
    for line in sys.stdin:
        if line.strip().isdigit():
            _, status = os.waitpid(int(line), 0)
            print(os.waitstatus_to_exitcode(status), flush=True)
            continue
        child = os.fork()
        if child == 0:
            _child(msgspec.json.decode(line, type=Command))
        print(child, flush=True)


if __name__ == "__main__":
    main()
