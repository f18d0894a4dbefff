"""``feedscript season``: the lessons of a season, their programs, and the calendar."""

from __future__ import annotations

import sys
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime
from pathlib import Path

import click

from feedscript.check.check_program import Options
from feedscript.check.season import SeasonVerdict, Watch, check_season
from feedscript.check.season_text import season_json, season_report
from feedscript.cli.options import FILE, format_option, library_option
from feedscript.cli.output import Exit, answer, leave, refuse, tell, writing
from feedscript.diagnostics import Diagnostic
from feedscript.plain_file import read_plain
from feedscript.shipped import season_path


@click.command()
@click.argument("file")
@click.option(
    "--calendar",
    type=FILE,
    help="Also write the lessons into this file, .ics; over the one of the last time, so that "
    "calendars that have it are updated (extra: calendar).",
)
@library_option
@format_option
def command(file: str, calendar: Path | None, library: Path | None, output_format: str) -> None:
    """Plan a season: every lesson with its day, theme and program, each program checked.

    Exits 1 when a day, a week or a program is not as it should be; no calendar is written then.
    """
    if calendar is not None and calendar.suffix.lower() != ".ics":
        raise click.UsageError(f"{calendar} must end in .ics")
    with _progress() as watch:
        verdict = check_season(season_path(file, library), Options(library=library), watch=watch)
    plain = season_json(verdict) | {"calendar": None}
    if calendar is not None and verdict.ok:
        _write(calendar, verdict, output_format)
        plain["calendar"] = str(calendar)
    answer(output_format, plain, season_report(verdict, file), verdict.diagnostics, verdict.sources)
    if calendar is not None and output_format == "text":
        tell(f"\nwrote {calendar}" if verdict.ok else f"\n{calendar} was not written")
    leave(Exit.FINE if verdict.ok else Exit.PROGRAM)


@contextmanager
def _progress() -> Iterator[Watch]:
    """A bar on a terminal while programs are checked."""
    with click.progressbar(
        length=1, label="programs", file=sys.stderr, hidden=not sys.stderr.isatty()
    ) as bar:

        def watch(done: int, of: int) -> None:
            bar.length = max(of, 1)
            bar.update(done - bar.pos)

        yield watch


def _write(calendar: Path, verdict: SeasonVerdict, output_format: str) -> None:
    from feedscript.review.season.calendar import season_calendar

    with writing(calendar):
        before = read_plain(calendar) if calendar.exists() else None
        made = season_calendar(verdict, before, datetime.now(UTC))
        if isinstance(made, Diagnostic):
            refuse(Exit.USAGE, [made], output_format)
        calendar.write_bytes(made)
