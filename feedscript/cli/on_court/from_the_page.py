"""Lessons chosen on the phone, one after another, until the command is ended at the laptop."""

from __future__ import annotations

import sys
import time
from collections.abc import Callable
from contextlib import AbstractAsyncContextManager
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, NoReturn

import click

from feedscript.check.check_program import Options, check_program
from feedscript.cli.on_court.club_link import club_link, fetch_first
from feedscript.cli.on_court.run import LessonOptions
from feedscript.cli.output import Exit, leave, print_diagnostics, tell
from feedscript.diagnostics import FeedscriptError
from feedscript.journal.store import default_journal_path
from feedscript.told_units import ball_words

if TYPE_CHECKING:
    from feedscript.console.access import Access
    from feedscript.console.chooser import Before, Chosen
    from feedscript.console.listening import Listening
    from feedscript.console.offer import Places
    from feedscript.session.engine.engine import Engine
    from feedscript.terminal.run import Pairing
    from feedscript.terminal.run_lesson import RunRequest, RunResult

#: Takes a port, the same one each time.
Listen = Callable[[int], "Listening"]


def lessons_from_the_page(asked: LessonOptions, listen: Listen, port: int) -> NoReturn:
    """Let a paired phone choose, run what it chose, and again."""
    from feedscript.console.access import Access
    from feedscript.console.between import choose_lesson
    from feedscript.console.chooser import Before
    from feedscript.console.offer import Places
    from feedscript.session.engine.wall_clock import elapsed_s

    if asked.resume or asked.says_yes or asked.number is not None:
        raise click.UsageError("give FILE: without one the lesson is chosen on the phone")
    places = Places(
        folder=Path(asked.file or "."),
        library=asked.library,
        journal=asked.journal_path or default_journal_path(),
        urls=asked.urls,
        options=Options(launcher=asked.launcher, seed=asked.seed, library=asked.library),
    )
    before, access = Before(), Access(elapsed_s)
    while True:
        not_fetched = fetch_first(asked.journal_path)
        if not_fetched is not None:
            print_diagnostics((not_fetched,), {})
        listening = listen(port)
        port = listening.socket.getsockname()[1]
        try:
            chosen = choose_lesson(places, before, listening, access, tell)
        except KeyboardInterrupt:
            chosen = None
        if chosen is None:
            leave(Exit.FINE)
        before = _play(asked, places, chosen, listen(port), access)


def _play(
    asked: LessonOptions, places: Places, chosen: Chosen, listening: Listening, access: Access
) -> Before:
    from feedscript.console.chooser import Before
    from feedscript.console.review_page import review_page
    from feedscript.console.serve import serve
    from feedscript.terminal.run_lesson import run_lesson

    before = Before()

    def page(engine: Engine) -> AbstractAsyncContextManager[Pairing]:
        kept = engine.lesson.journal.path
        before.review = partial(review_page, kept, engine.lesson.session_id)
        return serve(engine, listening, before.review, access)

    try:
        result = run_lesson(_request(asked, places, chosen, page))
    except FeedscriptError as failed:
        listening.socket.close()
        found = failed.diagnostic
        before.told = f"{found.message}. {found.help}"
        tell(before.told)
        return before
    before.told, before.not_stopped = _told(result), result.not_stopped
    tell(before.told)
    return before


def _request(
    asked: LessonOptions,
    places: Places,
    chosen: Chosen,
    page: Callable[[Engine], AbstractAsyncContextManager[Pairing]],
) -> RunRequest:
    from feedscript.terminal.run_lesson import RunRequest

    path = chosen.choice.path
    return RunRequest(
        source=path,
        verdict=None if path is None else check_program(path, places.options),
        lesson=chosen.choice.lesson,
        urls=chosen.urls,
        journal=asked.journal_path,
        capture=asked.capture,
        says_yes=False,
        keys=sys.stdin.isatty(),
        wall_utc_s=time.time(),
        out=sys.stdout,
        rehearsal=chosen.rehearsal,
        another=True,
        beside=page,
        club=club_link(),
    )


def _told(result: RunResult) -> str:
    """How the lesson ended, for the page that chooses the next. Leaves where somebody outside ended
    the whole command."""
    from feedscript.terminal.run import ENDED_FROM_OUTSIDE

    summary = result.summary
    if summary.get("cause") in ENDED_FROM_OUTSIDE:
        leave(Exit.LAUNCHER)
    if "ending" not in summary:
        return "The program did not pass the check any more."
    why = f" ({summary['cause']})" if summary["cause"] else ""
    how = "is finished" if summary["ok"] else "was broken off"
    return f"Lesson {summary['lesson']} {how}{why}: {ball_words(summary['left'])} left."
