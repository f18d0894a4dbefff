"""One lesson that a desk began, in a process of its own (``python -m`` with this module's name).

The lesson, its page, the pairing, the set-up list and every way to stop are those of ``feedscript
court-side``; no fault and no load of the desk reaches them. The desk stands where that command's
keyboard stands: it holds one end of a pipe. When that end is gone, however the desk came to its
end, nobody at this machine could stop the lesson or open its page any more, so the launchers are
stopped and the lesson ends, and says why. A browser's tab is no such hand: closing one ends
nothing.

What the two say to each other stands in :mod:`feedscript.desk.lesson_messages`.
"""

from __future__ import annotations

import os
import sys
import time
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from functools import partial
from pathlib import Path

import anyio
import msgspec

from feedscript.check.check_program import check_program
from feedscript.console.access import Role
from feedscript.console.listening import listen
from feedscript.console.offer import SIMULATED
from feedscript.console.review_page import review_page
from feedscript.console.serve import Served, serve
from feedscript.desk.files import version_of
from feedscript.desk.lesson_messages import Asked, Ended, Told
from feedscript.desk.on_court import NOT_ON_COURT
from feedscript.diagnostics import FeedscriptError, as_json
from feedscript.host.endings import stay_when_suspended
from feedscript.host.keyboard import typed
from feedscript.language.resolve.loading import MOST_BYTES
from feedscript.plain_file import read_plain
from feedscript.session.engine.engine import Engine
from feedscript.terminal.line_writer import LineWriter, writing_lines
from feedscript.terminal.run import Pairing, stop_and_end
from feedscript.terminal.run_lesson import RunRequest, RunResult, run_lesson
from feedscript.tongues.tongue import IN_ENGLISH

#: A request is a path, addresses and two figures.
MOST_REQUEST = 65_536
DESK_GONE = "the desk that it was begun from is gone"


class _OpenedByTheDesk:
    """What a terminal shows in the place of an invitation: the link is the desk's to give."""

    def invite(self, viewer: bool) -> str:  # noqa: ARG002 (as every other invitation)
        return "The court-side page is opened from the desk.\n"

    def is_open(self) -> bool:
        return False


def main() -> None:
    """Run the lesson that the first line asks for. Exits with 1 where it ended ill."""
    # Ctrl-Z at the desk's terminal suspends the desk, and must leave no launcher without a host.
    stay_when_suspended()
    asked = msgspec.json.decode(_first_line(), type=Asked)
    with writing_lines(sys.stdout) as out:
        try:
            ended = _ended(_run(asked, out))
        except FeedscriptError as failed:
            ended = Ended(fine=False, diagnostics=(as_json(failed.diagnostic),))
        except KeyboardInterrupt:  # before there was anything to stop
            ended = Ended(fine=True)
        _tell(out, Told(ended=ended))
    raise SystemExit(0 if ended.fine else 1)


def _first_line() -> bytes:
    """Read byte by byte: what follows it belongs to the lesson."""
    line = b""
    while len(line) < MOST_REQUEST and (read := os.read(0, 1)) not in (b"", b"\n"):
        line += read
    return line


def _run(asked: Asked, out: LineWriter) -> RunResult:
    """The lesson, to its end. Raises FeedscriptError as ``run_lesson`` does."""
    source = None if asked.lesson is not None else Path(asked.program)
    verdict = None if source is None else check_program(source, text=_looked_at(source, asked))
    listening = listen(asked.court_network, 0)

    @asynccontextmanager
    async def page(engine: Engine) -> AsyncIterator[Pairing]:
        review = partial(review_page, engine.lesson.journal.path, engine.lesson.session_id)
        async with (
            serve(engine, listening, review) as served,
            anyio.create_task_group() as tasks,
        ):
            tasks.start_soon(_hear_the_desk, engine, served, out)
            yield _OpenedByTheDesk()
            tasks.cancel_scope.cancel()

    return run_lesson(
        RunRequest(
            source=source,
            verdict=verdict,
            lesson=asked.lesson,
            urls=asked.urls,
            journal=None,
            capture=None,
            says_yes=False,
            keys=False,
            wall_utc_s=time.time(),
            out=sys.stderr,
            rehearsal=all(url.startswith(SIMULATED) for url in asked.urls),
            beside=page,
        )
    )


def _looked_at(source: Path, asked: Asked) -> str:
    """The words that were seen to pass. Raises FeedscriptError where others stand there now."""
    try:
        words = read_plain(source, MOST_BYTES).decode("utf-8-sig")
    except (OSError, UnicodeDecodeError):
        words = ""
    if version_of(words) != asked.version:
        raise FeedscriptError(
            NOT_ON_COURT.report(
                f"`{source.stem}` was changed as it was begun",
                help="open it again, look, then begin",
            )
        )
    return words


async def _hear_the_desk(engine: Engine, served: Served, out: LineWriter) -> None:
    """A link to the page now and for each line; the end of the lesson when the desk is gone."""
    _tell(out, Told(page=served.pairing_link(Role.COACH)))
    async with typed() as read:
        while data := await read():
            if b"\n" in data:
                _tell(out, Told(page=served.pairing_link(Role.COACH)))
    await stop_and_end(engine, "desk gone", DESK_GONE)


def _tell(out: LineWriter, told: Told) -> None:
    out.write(msgspec.json.encode(told, enc_hook=IN_ENGLISH).decode() + "\n")


def _ended(result: RunResult) -> Ended:
    return Ended(
        fine=result.fine,
        summary=result.summary,
        not_stopped=result.not_stopped,
        diagnostics=tuple(map(as_json, result.diagnostics)),
    )


if __name__ == "__main__":
    main()
