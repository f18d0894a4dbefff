"""Courts' computers that begin at once: every command is forked off a process that has imported
everything already. Words come as lines of JSON; each command is a process, and may be killed.

Started as ``python -m tests.club.link.forge``; for one thread's use.
"""

from __future__ import annotations

import importlib
import json
import os
import subprocess
import sys
import time
import traceback
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from typing import NoReturn

import msgspec

#: What the commands import as they go.
AHEAD = (
    "feedscript.club.link.beside",
    "feedscript.club.link.catch_up",
    "feedscript.club.link.fetch",
    "feedscript.session.engine.connect",
    "feedscript.terminal.run",
    "feedscript_simulator",
)


class Ended(msgspec.Struct, frozen=True):
    """How a command ended: its exit code, or minus the signal that killed it."""

    code: int


class Forge:
    """From the tests' side."""

    def __init__(self, process: subprocess.Popen[str]) -> None:
        self._process = process

    def begin(self, words: list[str], env: dict[str, str], out: str, off_s: float = 0.0) -> int:
        """A command; the number of its process. Its clock is ``off_s`` wrong from a moment on that
        SIGUSR1 tells."""
        told = {"words": words, "env": env, "out": out, "off_s": off_s}
        return int(self._say(told))

    def wait(self, process: int) -> Ended:
        return Ended(int(self._say({"wait": process})))

    def _say(self, told: object) -> str:
        assert self._process.stdin is not None
        assert self._process.stdout is not None
        self._process.stdin.write(json.dumps(told) + "\n")
        self._process.stdin.flush()
        return self._process.stdout.readline()


@contextmanager
def forge(program: str) -> Iterator[Forge]:
    words = [sys.executable, "-m", "tests.club.link.forge", program]
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


def _child(told: dict[str, object]) -> NoReturn:
    import signal

    from feedscript.cli import verbs

    true_time, off_s = time.time, float(str(told["off_s"]))

    def jumps(*_: object) -> None:
        time.time = lambda: true_time() + off_s

    signal.signal(signal.SIGUSR1, jumps)
    os.environ.update(told["env"])  # type: ignore[call-overload]
    out = os.open(str(told["out"]), os.O_WRONLY | os.O_CREAT | os.O_TRUNC)
    nothing = os.open(os.devnull, os.O_RDONLY)
    for number, file in enumerate((nothing, out, out)):
        os.dup2(file, number)
    code = 1
    try:
        words = told["words"]
        assert isinstance(words, list)
        verbs(words, standalone_mode=False)
        code = 0
    except SystemExit as ended:
        code = int(ended.code or 0)
    except BaseException:  # noqa: BLE001 (the rim of the process)
        traceback.print_exc()
    finally:
        sys.stdout.flush()
        os._exit(code)


def main() -> None:
    from feedscript.cli import verbs

    with suppress(SystemExit):  # a check imports and works out most of what a lesson needs
        verbs(["check", sys.argv[1]], standalone_mode=False)
    for name in AHEAD:
        importlib.import_module(name)
    print("ready", flush=True)
    for line in sys.stdin:
        told = json.loads(line)
        if "wait" in told:
            _, status = os.waitpid(told["wait"], 0)
            print(os.waitstatus_to_exitcode(status), flush=True)
            continue
        child = os.fork()
        if child == 0:
            _child(told)
        print(child, flush=True)


if __name__ == "__main__":
    main()
