"""``feedscript club password``: for somebody who can no longer sign in."""

from __future__ import annotations

import time
from contextlib import closing

import click

from feedscript.cli.club.store_option import opened, store_option
from feedscript.cli.options import format_option
from feedscript.cli.output import Exit, answer, refuse
from feedscript.formats import headed


@click.command()
@click.argument("login", metavar="NAME")
@store_option
@format_option
def command(login: str, address: str | None, output_format: str) -> None:
    """Make a link by which whoever signs in by NAME chooses another password, once, within a day.

    For whoever keeps the server, where no head coach can sign in any more; else the head coach
    makes one on the page.
    """
    with closing(opened(address, output_format)) as store:
        from feedscript.club.people.beginning import INVITED, new_link
        from feedscript.club.refusals import NO_ACCOUNT

        code = new_link(store, login, time.time())
        if code is None:
            said = NO_ACCOUNT.report(
                f"nobody signs in as {login!r}", help="the head coach's page lists the accounts"
            )
            refuse(Exit.USAGE, (said,), output_format)
    words = f"At the club's address: {INVITED}{code}"
    plain = headed("club-password", {"path": f"{INVITED}{code}"})
    answer(output_format, plain, words)
