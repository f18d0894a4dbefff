"""``feedscript bundle``: everything a report of trouble needs, in one file."""

from __future__ import annotations

from pathlib import Path

import click

from feedscript.cli.options import (
    capture_option,
    format_option,
    journal_option,
    launcher_option,
    out_option,
)
from feedscript.cli.output import Exit, answer, refuse
from feedscript.diagnostics import FeedscriptError
from feedscript.journal.bundle import write_bundle
from feedscript.journal.store import default_journal_path


@click.command()
@out_option("the bundle, a zip.", required=True)
@journal_option("without it, yours, if there is one")
@click.option("--no-journal", is_flag=True, help="Leave the journal out.")
@launcher_option("without it, none is packed")
@capture_option("one that `run --capture` wrote, once for each.", multiple=True)
@format_option
def command(
    out: Path,
    journal_path: Path | None,
    no_journal: bool,
    launcher: Path | None,
    capture: tuple[Path, ...],
    output_format: str,
) -> None:
    """Pack versions, journal, profile and capture for a report. Players' names are left out.

    A capture holds what crossed the wire: settings and times. Names that stand in the journal are
    left out of every other part too.
    """
    if journal_path is None and default_journal_path().exists():
        journal_path = default_journal_path()
    try:
        parts = write_bundle(
            out,
            journal=None if no_journal else journal_path,
            profile=launcher,
            captures=capture,
        )
    except FeedscriptError as error:
        refuse(Exit.PROGRAM, [error.diagnostic], output_format)
    answer(output_format, {"file": str(out), "parts": parts}, f"{out}: {', '.join(parts)}")
