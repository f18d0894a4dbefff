"""``feedscript club fetch``: what the club has for this court."""

from __future__ import annotations

from pathlib import Path

import click

from feedscript.cli.options import format_option, journal_option
from feedscript.cli.output import Exit, answer, refuse
from feedscript.club.link.membership import joined
from feedscript.club.refusals import OF_A_COURT, what_is_missing
from feedscript.diagnostics import FeedscriptError
from feedscript.formats import headed
from feedscript.journal.store import default_journal_path

#: How long the club is waited for, s.
MOST_S = 60.0


@click.command()
@journal_option("without it, the one in the user's data folder")
@format_option
def command(journal_path: Path | None, output_format: str) -> None:
    """Fetch the club's library, which programs use as `club/NAME`, what coaches have handed to this
    court, which lies in its own library as `my/from-club/COACH/NAME`, and what your players did on
    other courts.

    Every lesson does so by itself: the library before it begins, all of it when it has ended, where
    the club can be reached; without it, with what was fetched last. Whom the club has forgotten is
    forgotten here first. What the club has withdrawn is said.
    """
    missing = what_is_missing(OF_A_COURT)
    if missing is not None:
        refuse(Exit.USAGE, (missing,), output_format)
    import anyio

    from feedscript.club.link.fetch import bring_down
    from feedscript.club.link.forgetting import journals_here, obey_club

    try:
        membership = joined()
        anyio.run(obey_club, membership, journals_here(journal_path))
        journal = journal_path or default_journal_path()
        done = anyio.run(bring_down, membership, journal, MOST_S)
    except FeedscriptError as failed:
        refuse(Exit.LAUNCHER, (failed.diagnostic,), output_format)
    had = done.library
    lines = [f"Texts fetched: {had.texts}. Programs handed to this court: {had.programs} new."]
    lines += [f"Withdrawn: club/{one.name}: {one.withdrawn}" for one in had.withdrawn]
    lines += [f"Lessons of other courts with your players: {done.lessons}."]
    plain = {
        "texts": had.texts,
        "programs": had.programs,
        "withdrawn": {one.name: one.withdrawn for one in had.withdrawn},
        "lessons": done.lessons,
    }
    answer(output_format, headed("club-fetch", plain), "\n".join(lines))
