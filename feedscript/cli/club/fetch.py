"""``feedscript club fetch``: what the club has for this court."""

from __future__ import annotations

import click

from feedscript.cli.options import format_option
from feedscript.cli.output import Exit, answer, refuse
from feedscript.club.link.membership import joined
from feedscript.club.refusals import OF_A_COURT, what_is_missing
from feedscript.diagnostics import FeedscriptError

#: How long the club is waited for, s.
MOST_S = 60.0


@click.command()
@format_option
def command(output_format: str) -> None:
    """Fetch the club's library, which programs use as `club/NAME`, and what coaches have handed to
    this court, which lies in its own library as `my/from-club/COACH/NAME`.

    Every lesson does so before it begins, where the club can be reached; without it, with what was
    fetched last. What the club has withdrawn is said.
    """
    missing = what_is_missing(OF_A_COURT)
    if missing is not None:
        refuse(Exit.USAGE, (missing,), output_format)
    import anyio

    from feedscript.club.link.fetch import fetch

    try:
        done = anyio.run(fetch, joined(), MOST_S)
    except FeedscriptError as failed:
        refuse(Exit.LAUNCHER, (failed.diagnostic,), output_format)
    lines = [f"Texts fetched: {done.texts}. Programs handed to this court: {done.programs} new."]
    lines += [f"Withdrawn: club/{one.name}: {one.withdrawn}" for one in done.withdrawn]
    withdrawn = {one.name: one.withdrawn for one in done.withdrawn}
    plain = {"texts": done.texts, "programs": done.programs, "withdrawn": withdrawn}
    answer(output_format, plain, "\n".join(lines))
