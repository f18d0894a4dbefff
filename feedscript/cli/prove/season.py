"""``feedscript season``: the lessons of a season, their programs, and the calendar."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import click

from feedscript.check.check_program import Options
from feedscript.check.season import SeasonVerdict, check_season
from feedscript.check.season_text import season_json, season_report
from feedscript.cli.after.journal import reports_trouble
from feedscript.cli.after.record import journals
from feedscript.cli.language import language_option, tongue_of
from feedscript.cli.names import SEASON
from feedscript.cli.options import (
    FILE,
    format_option,
    journals_option,
    library_option,
    player_option,
)
from feedscript.cli.output import (
    Exit,
    answer,
    leave,
    print_diagnostics,
    print_json,
    refuse,
    tell,
    writing,
)
from feedscript.cli.progress import counted
from feedscript.diagnostics import Diagnostic
from feedscript.formats import headed
from feedscript.plain_file import read_plain
from feedscript.review.record.figures import record_of
from feedscript.review.record.forms import facts, in_words, record_json
from feedscript.review.season.calendar import season_calendar
from feedscript.review.season.forms import held_json, held_words
from feedscript.review.season.held import held_of, history_over
from feedscript.shipped import season_path
from feedscript.tongues.text import _
from feedscript.tongues.tongue import Tongue


@click.command()
@click.argument("file", type=SEASON)
@click.option(
    "--calendar",
    type=FILE,
    help="Also write the lessons into this file, .ics; over the one of the last time, so that "
    "calendars that have it are updated (extra: calendar).",
)
@click.option("--held", is_flag=True, help="Show which lessons were held, from the journal.")
@journals_option
@player_option
@library_option
@language_option
@format_option
@reports_trouble
def command(
    file: str,
    calendar: Path | None,
    held: bool,
    journal_paths: tuple[Path, ...],
    player: str | None,
    library: Path | None,
    language: str | None,
    output_format: str,
) -> None:
    """Plan a season: every lesson with its day, theme and program, each program checked.

    With --held: which lessons were held and with whom; with --player too: that player over them.
    Exits 1 when a day, a week or a program is not as it should be; no calendar is written then.
    """
    if calendar is not None and calendar.suffix.lower() != ".ics":
        raise click.UsageError(f"{calendar} must end in .ics")
    with counted("programs") as watch:
        verdict = check_season(season_path(file, library), Options(library=library), watch=watch)
    if held or journal_paths or player is not None:
        _show_held(verdict, journals(journal_paths), player, language, output_format)
        return
    plain = season_json(verdict) | {"calendar": None}
    if calendar is not None and verdict.ok:
        _write(calendar, verdict, tongue_of(language), output_format)
        plain["calendar"] = str(calendar)
    answer(output_format, plain, season_report(verdict, file), verdict.diagnostics, verdict.sources)
    if calendar is not None and output_format == "text":
        tell(f"\nwrote {calendar}" if verdict.ok else f"\n{calendar} was not written")
    leave(Exit.FINE if verdict.ok else Exit.PROGRAM)


def _show_held(
    verdict: SeasonVerdict,
    paths: tuple[Path, ...],
    player: str | None,
    language: str | None,
    output_format: str,
) -> None:
    """What became of the lessons. A program that does not pass any more changes nothing of that."""
    season = verdict.season
    if season is None or not season.lessons:
        refuse(Exit.PROGRAM, verdict.diagnostics, output_format, verdict.sources)
    found = held_of(verdict, paths, datetime.now(UTC))
    record = None if player is None else record_of(history_over(found, paths, player))
    if output_format == "json":
        plain: dict[str, Any] = {"title": season.title, "lessons": held_json(found, player)}
        plain["record"] = None if record is None else record_json(record)
        print_json(headed("season-held", plain))
        return
    print_diagnostics(found.passed_over, {})
    tell(season.title)
    tongue = tongue_of(language, "" if record is None else record.history.language)
    tell("\n".join(map(tongue, held_words(found, player))))
    if record is not None:
        head = _("{player}: over the season", player=record.player)
        tell("\n".join(map(tongue, ["", head, facts(record.history), *in_words(record)])))


def _write(calendar: Path, verdict: SeasonVerdict, tongue: Tongue, output_format: str) -> None:
    with writing(calendar):
        before = read_plain(calendar) if calendar.exists() else None
        made = season_calendar(verdict, before, datetime.now(UTC), tongue)
        if isinstance(made, Diagnostic):
            refuse(Exit.USAGE, [made], output_format)
        calendar.write_bytes(made)
