"""``feedscript console``: a lesson on a launcher, with the court-side page beside it."""

from __future__ import annotations

import sys
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from pathlib import Path
from typing import TYPE_CHECKING

import click

from feedscript.cli.output import Exit, format_option, leave
from feedscript.cli.run import Asked, conduct, lesson_options

if TYPE_CHECKING:
    from feedscript.session.controller import Controller


@click.command()
@lesson_options
@click.option(
    "--court-network",
    "on_court_network",
    is_flag=True,
    help="Serve the page on the network this machine is joined to, for a phone; without it, on "
    "this machine alone.",
)
@click.option(
    "--port",
    type=click.IntRange(0, 65535),
    default=0,
    show_default="any that is free",
    help="The page's port.",
)
@format_option
def command(
    file: str | None,
    urls: tuple[str, ...],
    launcher: Path | None,
    seed: int | None,
    resume: bool,
    number: int | None,
    journal_file: Path | None,
    capture: Path | None,
    says_yes: bool,
    on_court_network: bool,
    port: int,
    output_format: str,
) -> None:
    """Run FILE on a launcher from the court-side page.

    Shows a link and its QR code; the code in it pairs one device, once, within ten minutes. That
    device can pair others. Arming stays a person's act at the launcher, and the page's STOP is no
    emergency stop. Try it without a launcher: --on sim:
    """

    try:
        from feedscript.console.access import Role
        from feedscript.console.pairing import qr_terminal
        from feedscript.console.serve import serve
    except ImportError:
        click.echo(
            "the page needs the extra 'console': pip install 'feedscript[console]'", err=True
        )
        leave(Exit.USAGE)

    @asynccontextmanager
    async def page(lesson: Controller) -> AsyncIterator[None]:
        async with serve(lesson, on_court_network=on_court_network, port=port) as served:
            link = served.pairing_link(Role.COACH)
            out = sys.stderr if output_format == "json" else sys.stdout
            print(f"court-side page: {link}", file=out)
            if on_court_network:
                print(qr_terminal(link), file=out)
            out.flush()
            yield

    asked = Asked(file, urls, launcher, seed, resume, number, journal_file, capture, says_yes)
    conduct(asked, output_format, page)
