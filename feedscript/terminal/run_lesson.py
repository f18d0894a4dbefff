"""A lesson on court from start to end: the program's verdict, the links, the terminal, the sum."""

from __future__ import annotations

import gc
import sys
from collections.abc import Callable, Iterator, Mapping
from contextlib import AbstractAsyncContextManager, AsyncExitStack, contextmanager
from pathlib import Path
from typing import TextIO

import anyio
import msgspec

from feedscript.check.check_program import Verdict
from feedscript.diagnostics import Diagnostic
from feedscript.journal.queries import count_outcomes
from feedscript.journal.store import Journal, default_journal_path, open_journal
from feedscript.launcher.port import Outcome
from feedscript.session.engine.connect import Links, connect_lesson
from feedscript.session.engine.engine import LATE_TAPS_S, Ending, Engine
from feedscript.session.engine.launcher_stops import stop_not_confirmed
from feedscript.session.engine.resume import find_broken
from feedscript.session.engine.start import Setting
from feedscript.session.group.questions import default_questions_path, load_questions
from feedscript.terminal.run import Pairing, Terminal, at_terminal

#: How long a thread may keep the interpreter from the one that hears a stop.
TURN_S = 0.001


class RunRequest(msgspec.Struct, frozen=True, kw_only=True):
    """What was asked for. ``verdict`` None: the lesson that was broken off is resumed."""

    source: Path | None
    verdict: Verdict | None
    lesson: int | None
    urls: tuple[str, ...]
    journal: Path | None
    capture: Path | None
    says_yes: bool
    keys: bool
    wall_utc_s: float
    out: TextIO
    rehearsal: bool = False
    another: bool = False  # once it is over the next lesson is chosen
    measures: bool = False  # a person says of each ball where it came down
    beside: Callable[[Engine], AbstractAsyncContextManager[Pairing]] | None = None  # the page
    club: Callable[[Engine], AbstractAsyncContextManager[None]] | None = None  # told as it goes


class RunResult(msgspec.Struct, frozen=True, kw_only=True):
    """How it ended. ``fine``: as the program or a person chose; ``refused``: the program did not
    pass, nothing was opened."""

    fine: bool
    refused: bool
    diagnostics: tuple[Diagnostic, ...]
    sources: Mapping[str, str] = msgspec.field(default_factory=dict)
    summary: dict[str, object] = msgspec.field(default_factory=dict)
    not_stopped: tuple[str, ...] = ()  # launchers that never confirmed it


def run_lesson(asked: RunRequest) -> RunResult:
    """Run or resume. Raises FeedscriptError when a launcher cannot be reached or the journal
    cannot be used."""
    verdict = asked.verdict
    if verdict is not None and not verdict.ok:
        return RunResult(
            fine=False,
            refused=True,
            diagnostics=verdict.diagnostics,
            sources=verdict.sources,
            summary={"ok": False},
        )
    journal = open_journal(asked.journal or default_journal_path())
    try:
        with _prompt():
            ending, lesson, not_stopped = anyio.run(_conduct, asked, journal)
        summary = _sum(journal, lesson, ending)
    finally:
        journal.close()
    noted = () if verdict is None else verdict.diagnostics
    return RunResult(
        fine=not ending.cause,
        refused=False,
        diagnostics=(*noted, *ending.diagnostics, *map(stop_not_confirmed, not_stopped)),
        summary=summary,
        not_stopped=tuple(name or "the launcher" for name in not_stopped),
    )


@contextmanager
def _prompt() -> Iterator[None]:
    """Keep this process ready for a stop.

    Threads beside the lesson (screen, journal, the check of another pace) give the interpreter back
    soon, and the collector need not look through all that is loaded, which takes it some 15 ms.
    """
    before_s = sys.getswitchinterval()
    sys.setswitchinterval(TURN_S)
    gc.collect()
    gc.freeze()
    try:
        yield
    finally:
        gc.unfreeze()
        sys.setswitchinterval(before_s)


async def _conduct(asked: RunRequest, journal: Journal) -> tuple[Ending, int, tuple[str, ...]]:
    questions, faults = load_questions(default_questions_path())
    links = Links(urls=asked.urls, capture=asked.capture)
    setting = Setting(
        source=str(asked.source or ""),
        rehearsal=asked.rehearsal,
        another=asked.another,
        measures=asked.measures,
        wall_utc_s=asked.wall_utc_s,
        questions=questions,
    )
    broken = find_broken(journal, asked.lesson) if asked.verdict is None else None
    if broken is not None:
        plan, profiles = broken.plan, broken.profiles
    else:
        assert asked.verdict is not None
        assert asked.verdict.plan is not None
        plan, profiles = asked.verdict.plan, asked.verdict.profiles
    async with AsyncExitStack() as stack:
        engine = await stack.enter_async_context(
            connect_lesson(plan, profiles, links, journal, setting, broken=broken)
        )
        for fault in faults:
            engine.lesson.trouble(fault)
        pairing = None
        if asked.beside is not None:
            pairing = await stack.enter_async_context(asked.beside(engine))
        if asked.club is not None:
            await stack.enter_async_context(asked.club(engine))
        somebody = asked.keys or pairing is not None
        terminal = Terminal(
            out=asked.out,
            keys=asked.keys,
            says_yes=asked.says_yes,
            pairing=pairing,
            late_taps_s=LATE_TAPS_S if somebody and not asked.says_yes else 0.0,
        )
        ending = await at_terminal(engine, terminal)
        launchers = engine.lesson.launchers
        moving = tuple(one.name for one in launchers if not one.stopped)
        return ending, engine.lesson.session_id, moving


def _sum(journal: Journal, lesson: int, ending: Ending) -> dict[str, object]:
    """The figures of a lesson, as the journal has them."""
    became = count_outcomes(journal, lesson)
    return {
        "ok": ending.finished,
        "ending": ending.phase.value,
        "cause": ending.cause or ("" if ending.finished else "a person ended it"),
        "lesson": lesson,
        "left": became[Outcome.LEFT],
        "not_sent": became[Outcome.NOT_SENT],
        "unknown": became[Outcome.UNKNOWN] + became[None],
        "journal": journal.path,
    }
