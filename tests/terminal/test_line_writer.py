"""Plain lines into a pipe that nobody reads, or whose reader is gone: the lesson goes on."""

from __future__ import annotations

import io
import os
import threading
from collections.abc import Iterator
from contextlib import suppress

import pytest

from feedscript.plan.model import Repeat, ShowSpeed
from feedscript.session.engine.engine import Ending, Engine
from feedscript.session.operator.phases import Phase
from feedscript.terminal.run import Terminal, at_terminal
from tests.plan.small_plans import send
from tests.session.rehearsing import Rig, Run, lesson_plan, rehearse

PLAN = lesson_plan(ShowSpeed(feed=0, line=1), Repeat(times=6, body=(send(0, 4.0),), line=2))
#: A lesson that needed somebody to read ends only when this is over.
READ_AFTER_S = 8.0


@pytest.fixture
def full_pipe() -> Iterator[tuple[int, io.TextIOWrapper]]:
    """A pipe that takes nothing more."""
    reads, writes = os.pipe()
    os.set_blocking(writes, False)
    with suppress(BlockingIOError):
        while True:
            os.write(writes, b"x" * 4096)
    os.set_blocking(writes, True)
    out = io.TextIOWrapper(io.FileIO(writes, "w"), write_through=True)
    yield reads, out
    with suppress(OSError):
        os.close(reads)
    with suppress(OSError):
        out.close()


def run(out: io.TextIOBase) -> Run:
    async def conduct(engine: Engine) -> Ending:
        return await at_terminal(engine, Terminal(out=out, keys=False, says_yes=False))  # type: ignore[arg-type]

    return rehearse(PLAN, rig=Rig(), conduct=conduct)


def test_a_pipe_that_nobody_reads_keeps_no_lesson_waiting(
    full_pipe: tuple[int, io.TextIOWrapper],
) -> None:
    reads, out = full_pipe
    was_read = threading.Event()

    def read_at_last() -> None:
        if not done.wait(READ_AFTER_S):
            was_read.set()
        while os.read(reads, 65536):
            pass

    done = threading.Event()
    reader = threading.Thread(target=read_at_last)
    reader.start()
    try:
        found = run(out)
        assert found.ending.phase is Phase.FINISHED
        assert len(found.left()) == 7
        assert not was_read.is_set()
    finally:
        done.set()
        for thread in threading.enumerate():
            if thread.name == "line writer":
                thread.join()
        out.close()
        reader.join()


def test_a_reader_that_goes_away_ends_no_lesson(full_pipe: tuple[int, io.TextIOWrapper]) -> None:
    reads, out = full_pipe
    os.close(reads)
    assert run(out).ending.phase is Phase.FINISHED


def test_whoever_reads_gets_every_line_in_its_order() -> None:
    out = io.StringIO()
    run(out)
    left = [line.split("ball ")[1] for line in out.getvalue().splitlines() if " left: " in line]
    assert left == [f"{number} left: a" for number in range(1, 8)]
    assert "finished" in out.getvalue().splitlines()[-1]
