"""``feedscript club push``: what the club does not have yet is sent."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from feedscript.cli.options import format_option, journal_option
from feedscript.cli.output import Exit, answer, leave, refuse
from feedscript.club.link.membership import joined
from feedscript.club.refusals import OF_A_COURT, what_is_missing
from feedscript.diagnostics import FeedscriptError
from feedscript.formats import headed
from feedscript.journal.store import default_journal_path

if TYPE_CHECKING:
    from feedscript.club.link.catch_up import CaughtUp
    from feedscript.club.people.obey import Forgot


@click.command()
@journal_option("without it, the one in the user's data folder")
@format_option
def command(journal_path: Path | None, output_format: str) -> None:
    """Send the club everything that it does not have, such as after a week without a network.

    Whom the club has forgotten is forgotten here first. Nothing is sent twice, however often this
    is run. Exits 3 when the club is not heard, or does not take something.
    """
    missing = what_is_missing(OF_A_COURT)
    if missing is not None:
        refuse(Exit.USAGE, (missing,), output_format)
    import anyio

    from feedscript.club.link.catch_up import catch_up
    from feedscript.club.link.door import NotHeardError
    from feedscript.club.link.forgetting import journals_here, obey_club

    try:
        membership = joined()
        forgot = anyio.run(obey_club, membership, journals_here(journal_path))
    except NotHeardError:
        forgot = []  # it is said below
    except FeedscriptError as failed:
        refuse(Exit.LAUNCHER, (failed.diagnostic,), output_format)
    try:
        done = anyio.run(catch_up, membership, journal_path or default_journal_path())
    except FeedscriptError as failed:
        refuse(Exit.LAUNCHER, (failed.diagnostic,), output_format)
    _tell(done, forgot, output_format)


def _tell(done: CaughtUp, forgot: list[Forgot], output_format: str) -> None:
    found = tuple(dict.fromkeys(done.aside.values()))
    if done.not_heard is not None:
        found = (*found, done.not_heard)
    gone = sum(one.names for one in forgot)
    plain = {
        "forgot": gone,
        "sent": done.sent,
        "waiting": done.waiting,
        "not_taken": sorted(done.aside),
        "fetched": done.fetched,
    }
    words = f"Sent: {done.sent} events. The club does not have yet: {done.waiting}."
    if gone:
        words = f"Forgotten here, as the club has: {gone} in {len(forgot)} journals.\n{words}"
    if done.fetched:
        words += f" Lessons of other courts with your players: {done.fetched}."
    answer(output_format, headed("club-push", plain), words, found)
    leave(Exit.LAUNCHER if found else Exit.FINE)
