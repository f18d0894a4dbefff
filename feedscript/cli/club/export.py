"""``feedscript club export``: the club's lessons as a journal again."""

from __future__ import annotations

import os
from contextlib import closing
from pathlib import Path
from typing import TYPE_CHECKING

import click

from feedscript.cli.club.store_option import opened, store_option
from feedscript.cli.options import format_option, out_option
from feedscript.cli.output import Exit, answer, leave, refuse
from feedscript.diagnostics import Diagnostic, FeedscriptError
from feedscript.formats import headed
from feedscript.journal.retention import COPY_REFUSED

if TYPE_CHECKING:
    from feedscript.club.store.store import Store


@click.command()
@out_option("a new journal, where no file is yet.", required=True, only_new=True)
@click.option("--of", "court", metavar="COURT", help="Of this court alone; else of all courts.")
@store_option
@format_option
def command(out: Path, court: str | None, address: str | None, output_format: str) -> None:
    """Write the club's lessons into a new journal, oldest first, with every event as it came.

    Reviews, records and everything else that reads a journal read it. What films told stays on the
    courts. For whoever keeps the server; players who are forgotten are in it without their names.
    """
    with closing(opened(address, output_format)) as store:
        try:
            if os.path.lexists(out):
                raise FeedscriptError(_there_already(out))
            lessons, passed_over = _write(store, out, court)
        except FeedscriptError as failed:
            refuse(Exit.USAGE, (failed.diagnostic,), output_format)
    plain = {"file": str(out), "lessons": lessons, "passed_over": len(passed_over)}
    plain = headed("club-export", plain)
    answer(output_format, plain, f"wrote {out}: {lessons} lessons", tuple(passed_over))
    leave(Exit.PROGRAM if passed_over else Exit.FINE)


def _write(store: Store, out: Path, court: str | None) -> tuple[int, list[Diagnostic]]:
    from feedscript.club.people.history import take_home
    from feedscript.club.refusals import COURT_UNKNOWN
    from feedscript.club.store import hosts

    if court is None:
        return take_home(store, out)
    named = {one.name: one.id for one in hosts.courts(store)}
    if court not in named:
        known = ", ".join(named) or "none has joined"
        said = COURT_UNKNOWN.report(f"no court is called {court!r}", help=f"courts: {known}")
        raise FeedscriptError(said)
    return take_home(store, out, named[court])


def _there_already(out: Path) -> Diagnostic:
    return COPY_REFUSED.report(
        "the file exists already", device=str(out), help="name a file that does not"
    )
