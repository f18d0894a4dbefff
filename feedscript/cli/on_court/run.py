"""``feedscript run``: a lesson on a launcher."""

from __future__ import annotations

import sys
import time
from collections.abc import Callable
from contextlib import AbstractAsyncContextManager
from pathlib import Path
from typing import TYPE_CHECKING, Any, NoReturn, TypeVar

import click
import msgspec

from feedscript.check.check_program import Options, check_program
from feedscript.cli.names import PROGRAM
from feedscript.cli.on_court.club_link import club_link, fetch_after, fetch_first
from feedscript.cli.options import (
    OF_THE_PROGRAM,
    capture_option,
    format_option,
    journal_option,
    launcher_option,
    library_option,
    on_option,
    seed_option,
)
from feedscript.cli.output import (
    Exit,
    answer,
    leave,
    nobody_may_read,
    print_diagnostics,
)
from feedscript.diagnostics import Diagnostic, FeedscriptError, as_json
from feedscript.formats import headed
from feedscript.shipped import program_path
from feedscript.told_units import ball_words

if TYPE_CHECKING:
    from feedscript.session.engine.engine import Engine
    from feedscript.terminal.run import Pairing

F = TypeVar("F", bound=Callable[..., Any])


#: What every command that runs a lesson takes; also ``feedscript court-side``.
_OPTIONS = (
    click.argument("file", type=PROGRAM, required=False),
    on_option(multiple=True),
    launcher_option(OF_THE_PROGRAM),
    library_option,
    seed_option,
    click.option(
        "--resume",
        is_flag=True,
        help="Go on with the lesson that was broken off last, from the journal; without FILE.",
    ),
    click.option("--lesson", "number", type=int, help="The lesson of this number; with --resume."),
    journal_option("without it, the one in the user's data folder"),
    capture_option(
        "written now, for `feedscript bundle` or for playing back with --on replay:FILE. Of "
        "several launchers: FILE, FILE-2, … in their order."
    ),
    click.option(
        "--yes-i-am-behind-the-launcher",
        "says_yes",
        is_flag=True,
        help="For scripts: confirms the set-up list and whatever else a person is asked. Arming "
        "stays a person's act at the launcher.",
    ),
)


def lesson_options(command: F) -> F:
    """The options of a command that runs a lesson."""
    for option in reversed(_OPTIONS):
        command = option(command)
    return command


@click.command()
@lesson_options
@format_option
def command(output_format: str, **asked: Any) -> None:
    """Run FILE on a launcher: set up, arm, watch the first ball, play.

    Every ball is in the journal before the launcher is asked for it. Exits 3 when a launcher, its
    link or the disk fails, and whenever the lesson ends though nobody chose that; `--resume` then
    goes on where it was.
    """
    keys = sys.stdin.isatty()
    if not keys and not asked["says_yes"]:
        raise click.UsageError(
            "there is no keyboard to confirm the set-up list; in a script add "
            "--yes-i-am-behind-the-launcher"
        )
    conduct(LessonOptions(**asked), output_format)


class LessonOptions(msgspec.Struct, frozen=True, kw_only=True):
    """What :func:`lesson_options` pass on."""

    file: str | None
    urls: tuple[str, ...]
    launcher: Path | None
    library: Path | None
    seed: int | None
    resume: bool
    number: int | None
    journal_path: Path | None
    capture: Path | None
    says_yes: bool


def conduct(
    asked: LessonOptions,
    output_format: str,
    beside: Callable[[Engine], AbstractAsyncContextManager[Pairing]] | None = None,
) -> NoReturn:
    """Run the lesson that was asked for, with ``beside`` around it, and end the command."""
    if asked.resume == (asked.file is not None):
        raise click.UsageError("give FILE to run a program, or --resume to go on with a lesson")
    if not asked.urls:
        raise click.UsageError("say where the launcher is: --on URL, once for each launcher")
    from feedscript.terminal.run_lesson import RunRequest, run_lesson

    not_fetched = fetch_first(asked.journal_path)
    if not_fetched is not None:
        print_diagnostics((not_fetched,), {})
    source = None if asked.file is None else program_path(asked.file, asked.library)
    options = Options(launcher=asked.launcher, seed=asked.seed, library=asked.library)
    try:
        result = run_lesson(
            RunRequest(
                source=source,
                verdict=None if source is None else check_program(source, options),
                lesson=asked.number,
                urls=asked.urls,
                journal=asked.journal_path,
                capture=asked.capture,
                says_yes=asked.says_yes,
                keys=sys.stdin.isatty(),
                wall_utc_s=time.time(),
                out=sys.stderr if output_format == "json" else sys.stdout,
                beside=beside,
                club=club_link(),
            )
        )
    except FeedscriptError as failed:
        _end(Exit.LAUNCHER, (failed.diagnostic,), {"ok": False}, output_format)
    not_brought = None if result.refused else fetch_after(asked.journal_path)
    if not_brought is not None:
        print_diagnostics((not_brought,), {})
    code = Exit.PROGRAM if result.refused else Exit.FINE if result.fine else Exit.LAUNCHER
    if result.sources and output_format == "text":
        print_diagnostics(result.diagnostics, result.sources)
        leave(code)
    _end(code, result.diagnostics, result.summary, output_format)


def _why(summary: dict[str, object]) -> str:
    return f" ({summary['cause']})" if summary["cause"] else ""


def _end(
    code: Exit, found: tuple[Diagnostic, ...], summary: dict[str, object], output_format: str
) -> NoReturn:
    plain = headed("run", {**summary, "diagnostics": [as_json(one) for one in found]})
    with nobody_may_read():
        answer(output_format, plain, _sum(summary), found)
    leave(code)


def _sum(summary: dict[str, object]) -> str:
    if "ending" not in summary:
        return ""
    return (
        f"lesson {summary['lesson']} {summary['ending']}{_why(summary)}: "
        f"{ball_words(summary['left'])} left, {summary['not_sent']} not sent, "
        f"{summary['unknown']} unknown; journal {summary['journal']}"
    )
