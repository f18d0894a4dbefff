"""``feedscript bundle``: everything a report of trouble needs, in one file."""

from __future__ import annotations

from pathlib import Path

import click
import msgspec

from feedscript.cli.options import (
    capture_option,
    format_option,
    journal_option,
    launcher_option,
    on_option,
    out_option,
)
from feedscript.cli.output import Exit, answer, refuse
from feedscript.diagnostics import FeedscriptError
from feedscript.formats import headed
from feedscript.journal.bundle import write_bundle
from feedscript.journal.store import default_journal_path
from feedscript.launcher.fault_log import FaultLog
from feedscript.launcher.port import LauncherError
from feedscript.launcher.tools import tool


@click.command()
@out_option("the bundle, a zip.", required=True)
@journal_option("without it, yours, if there is one")
@click.option("--no-journal", is_flag=True, help="Leave the journal out.")
@launcher_option("without it, none is packed")
@on_option(required=False)
@capture_option("one that `run --capture` wrote, once for each.", multiple=True)
@format_option
def command(
    out: Path,
    journal_path: Path | None,
    no_journal: bool,
    launcher: Path | None,
    url: str | None,
    capture: tuple[Path, ...],
    output_format: str,
) -> None:
    """Pack versions, journal, profile and capture for a report. Players' names are left out.

    With --on, also what the launcher remembers of its last faults, which is shown too. That only
    asks, and disturbs no lesson; a serial port that a lesson holds cannot be asked beside it.

    A capture holds what crossed the wire: settings and times. Names that stand in the journal are
    left out of every other part too.
    """
    if journal_path is None and default_journal_path().exists():
        journal_path = default_journal_path()
    fault_log = None if url is None else _fault_log(url, output_format)
    try:
        parts = write_bundle(
            out,
            journal=None if no_journal else journal_path,
            profile=launcher,
            captures=capture,
            fault_log=fault_log,
        )
    except FeedscriptError as error:
        refuse(Exit.PROGRAM, [error.diagnostic], output_format)
    words = [f"{out}: {', '.join(parts)}", *([] if fault_log is None else fault_log.lines())]
    told = {"file": str(out), "parts": parts, "fault_log": msgspec.to_builtins(fault_log)}
    answer(output_format, headed("bundle", told), "\n".join(words))


def _fault_log(url: str, output_format: str) -> FaultLog:
    """What the launcher remembers; ends the command where it cannot be asked."""
    import anyio

    try:
        log: FaultLog = anyio.run(tool("fault-log"), url)
    except LauncherError as error:
        refuse(Exit.LAUNCHER, [error.diagnostic], output_format)
    return log
