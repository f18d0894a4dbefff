"""``feedscript bundle``: everything a report of trouble needs, in one file."""

from __future__ import annotations

from pathlib import Path

import click

from feedscript.cli.output import Exit, format_option, print_json, refuse, tell
from feedscript.cli.prove.launcher_choice import PROFILE_FILE
from feedscript.diagnostics import FeedscriptError
from feedscript.journal.bundle import write_bundle
from feedscript.journal.store import default_journal_path

_FILE = click.Path(path_type=Path, dir_okay=False)


@click.command()
@click.option("-o", "--output", "target", type=_FILE, required=True, help="The zip to write.")
@click.option("--journal", type=_FILE, help="The journal; without it, yours, if there is one.")
@click.option("--no-journal", is_flag=True, help="Leave the journal out.")
@click.option("--profile", type=PROFILE_FILE, help="The launcher's profile.")
@click.option(
    "--capture",
    "captures",
    type=_FILE,
    multiple=True,
    help="What `run --capture` wrote; once for each file.",
)
@format_option
def command(
    target: Path,
    journal: Path | None,
    no_journal: bool,
    profile: Path | None,
    captures: tuple[Path, ...],
    output_format: str,
) -> None:
    """Pack versions, journal, profile and capture for a report. Players' names are left out.

    A capture holds what crossed the wire: settings and times. Names that stand in the journal are
    left out of every other part too.
    """
    if journal is None and default_journal_path().exists():
        journal = default_journal_path()
    try:
        parts = write_bundle(
            target, journal=None if no_journal else journal, profile=profile, captures=captures
        )
    except FeedscriptError as error:
        refuse(Exit.PROGRAM, [error.diagnostic], output_format)
    if output_format == "json":
        print_json({"file": str(target), "parts": parts})
    else:
        tell(f"{target}: {', '.join(parts)}")
