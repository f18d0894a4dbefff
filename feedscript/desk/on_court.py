"""The lesson that a desk began: one at a time, in a process of its own, told how it stands.

The desk arms, holds and stops nothing: all that is done on the lesson's own page. What the desk
does is to live: when it ends, the lesson's launchers are stopped and it ends too
(:mod:`feedscript.desk.lesson_process`).
"""

from __future__ import annotations

import asyncio
import queue
import signal
import sys
import threading
from collections.abc import Callable
from contextlib import suppress
from subprocess import PIPE, Popen
from typing import Any, Literal

import msgspec

from feedscript.console.offer import SIMULATED
from feedscript.desk.lesson_messages import Asked, Ended, Told
from feedscript.diagnostics import Diagnostic, FeedscriptError, Page
from feedscript.launcher.discovery import parse_address, schemes
from feedscript.told_units import ball_words

NOT_ON_COURT = Page(
    slug="not-on-court",
    title="A lesson that the desk cannot begin now",
    why=(
        "A desk has one lesson on court at a time, so that nobody looks for the stop on the wrong "
        "page. It begins what is saved and passed the check, and after a launcher that did not "
        "confirm its stop nothing, until somebody has seen that it stands still."
    ),
)

#: Without the folder it was started in among Python's own: a coach's file there is no module of it.
COMMAND = (sys.executable, "-P", "-u", "-m", "feedscript.desk.lesson_process")
#: A lesson answers at once; on a busy machine later.
ANSWERS_WITHIN_S = 10.0
#: How long a desk that ends waits for its lesson: stops are confirmed in two seconds, or launchers
#: are left alone for their watchdogs' time. Design value.
ENDS_WITHIN_S = 15.0
LOOK_S = 0.1
#: A capture that is played back is no launcher.
_NO_LAUNCHER = "replay"


class Standing(msgspec.Struct, frozen=True, kw_only=True):
    """How the lesson stands, or how the last one ended; ``lesson`` is its number in the journal."""

    state: Literal["none", "starting", "running", "over"] = "none"
    program: str = ""
    launchers: tuple[str, ...] = ()  # their addresses
    told: str = ""
    lesson: int | None = None
    not_stopped: tuple[str, ...] = ()


class Court:
    """The one lesson of a desk. Any thread may use it; a thread of its own hears the lesson."""

    def __init__(self) -> None:
        self.standing = Standing()
        self._process: Popen[bytes] | None = None
        self._links: queue.Queue[str] = queue.Queue()
        self._lock = threading.Lock()  # one who begins
        self._asking = threading.Lock()  # one who asks for a link

    def why_not(self) -> Diagnostic | None:
        """What keeps another lesson from being begun now."""
        if self.standing.state in ("starting", "running"):
            return NOT_ON_COURT.report(
                f"`{self.standing.program}` is on court", help="end it on its page first"
            )
        if self.standing.not_stopped:
            return NOT_ON_COURT.report(
                f"{' and '.join(self.standing.not_stopped)} did not confirm that it stopped",
                help="see that it stands still, and say so",
            )
        return None

    def begin(self, program: str, asked: Asked) -> None:
        """Start the process of what is asked. Raises FeedscriptError, and starts none, where it
        may not. ``program`` is what the desk calls it."""
        with self._lock:
            refused = self.why_not() or _no_way(asked)
            if refused is not None:
                raise FeedscriptError(refused)
            # A Popen that is forgotten kills nothing: the lesson stops its launchers itself.
            try:
                process = Popen(COMMAND, stdin=PIPE, stdout=PIPE)
            except OSError as trouble:
                raise FeedscriptError(
                    NOT_ON_COURT.report(
                        f"its process cannot be started: {trouble.strerror}",
                        help="close other programs, then try again",
                    )
                ) from trouble
            self._process = process
            self.standing = Standing(state="starting", program=program, launchers=asked.urls)
        _write(process, msgspec.json.encode(asked) + b"\n")
        threading.Thread(
            target=self._follow, args=(process,), name="lesson on court", daemon=True
        ).start()

    def link(self) -> str:
        """A fresh one-time link to the lesson's page. Raises FeedscriptError where none runs."""
        with self._asking, suppress(queue.Empty):
            process = self._process
            if process is not None and self.standing.state == "running":
                while not self._links.empty():
                    self._links.get_nowait()  # came too late for who asked
                _write(process, b"\n")
                return self._links.get(timeout=ANSWERS_WITHIN_S)
        raise FeedscriptError(
            NOT_ON_COURT.report("no lesson answers", help="see above how it stands")
        )

    def give_up(self) -> None:
        """End a lesson that still looks for its launcher; one that runs is ended on its page."""
        process = self._process
        if process is not None and self.standing.state == "starting":
            process.terminate()

    def stands_still(self) -> None:
        """A person has looked."""
        self.standing = msgspec.structs.replace(self.standing, not_stopped=())

    async def end(self, at_once: Callable[[], bool]) -> None:
        """The desk ends: so does its lesson, stopped first. ``at_once``: nobody waits for it."""
        self.give_up()
        process = self._process
        if process is None or process.stdin is None:
            return
        with suppress(OSError):
            process.stdin.close()
        for _ in range(round(ENDS_WITHIN_S / LOOK_S)):
            if process.poll() is not None or at_once():
                return
            await asyncio.sleep(LOOK_S)

    def _follow(self, process: Popen[bytes]) -> None:
        """Take what the lesson tells, until it is over."""
        assert process.stdout is not None
        ended: Ended | None = None
        for line in process.stdout:
            try:
                told = msgspec.json.decode(line, type=Told)
            except msgspec.DecodeError:
                continue  # not the lesson's: whatever else writes there
            ended = told.ended or ended
            if told.page and self.standing.state == "starting":
                self.standing = msgspec.structs.replace(self.standing, state="running")
            elif told.page:
                self._links.put(told.page)
        code = process.wait()
        self._process = None
        self.standing = _over(self.standing, ended, code)


def _write(process: Popen[bytes], line: bytes) -> None:
    assert process.stdin is not None
    with suppress(OSError):  # it is ending, and whoever follows it tells so
        process.stdin.write(line)
        process.stdin.flush()


def _no_way(asked: Asked) -> Diagnostic | None:
    """Why a lesson is not sent by these addresses."""
    if asked.lesson is not None and any(url.startswith(SIMULATED) for url in asked.urls):
        return NOT_ON_COURT.report(
            "a lesson that was broken off goes on at its launchers only",
            help="choose the address of each",
        )
    return next(filter(None, map(_no_address, asked.urls)), None)


def _no_address(url: str) -> Diagnostic | None:
    """Why a lesson is not sent there."""
    address = parse_address(url)
    if isinstance(address, Diagnostic):
        return address
    if address.scheme in schemes() and address.scheme != _NO_LAUNCHER:
        return None
    known = ", ".join(f"{one}:" for one in schemes() if one != _NO_LAUNCHER)
    return NOT_ON_COURT.report(
        f"{address.scheme}: leads to no launcher", help=f"write one of {known}"
    )


def _over(before: Standing, ended: Ended | None, code: int) -> Standing:
    """How it stands once its process has ended."""
    over = msgspec.structs.replace(before, state="over")
    if ended is None and before.state == "starting":
        return msgspec.structs.replace(over, told="No lesson began.")
    if ended is None:
        how = signal.Signals(-code).name if code < 0 else f"code {code}"
        told = (
            f"The lesson's process ended without a word ({how}). A launcher that keeps watch stops "
            "by itself when it hears nothing more: see that each stands still."
        )
        moving = tuple(url for url in before.launchers if not url.startswith(SIMULATED))
        return msgspec.structs.replace(over, told=told, not_stopped=moving)
    return msgspec.structs.replace(
        over,
        told=_how(ended),
        lesson=ended.summary.get("lesson"),
        not_stopped=ended.not_stopped,
    )


def _how(ended: Ended) -> str:
    """How it ended, in a sentence; why none began, where that is so."""
    summary = ended.summary
    if "ending" not in summary:
        return f"No lesson began{_first_error(ended.diagnostics)}."
    how = "is finished" if summary["ok"] else "was broken off"
    why = f" ({summary['cause']})" if summary["cause"] else ""
    unsent = f", {summary['unknown']} may have left" if summary["unknown"] else ""
    balls = ball_words(summary["left"])
    return f"Lesson {summary['lesson']} {how}{why}: {balls} left{unsent}."


def _first_error(diagnostics: tuple[dict[str, Any], ...]) -> str:
    """The first one that says what to mend."""
    wrong = [one for one in diagnostics if one["severity"] == "error"]
    if not wrong:
        return ""
    help_ = f". To mend it: {wrong[0]['help']}" if wrong[0]["help"] else ""
    return f": {wrong[0]['message']}{help_}"
