"""What the club's commands share: the extra they need, and the store they work on."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from feedscript.cli.options import Option
from feedscript.cli.output import Exit, refuse, tell
from feedscript.diagnostics import FeedscriptError

if TYPE_CHECKING:
    from feedscript.club.store.store import Store

store_option: Option = click.option(
    "--store",
    "address",
    metavar="ADDRESS",
    help="Where the club's store lies, sqlite:///FILE or postgresql://NAME@MACHINE/CLUB; without "
    "it, a file beside your journal.",
)


def opened(address: str | None, output_format: str) -> Store:
    """The store, open; the command ends where it cannot be."""
    from feedscript.club.refusals import what_is_missing

    missing = what_is_missing()
    if missing is not None:
        refuse(Exit.USAGE, (missing,), output_format)
    from feedscript.club.store.store import default_address, open_store

    try:
        return open_store(address or default_address(), _waiting)
    except FeedscriptError as failed:
        refuse(Exit.USAGE, (failed.diagnostic,), output_format)


def _waiting(name: str, most_s: float) -> None:
    words = f"{name} is there and lets nobody in yet: it starts, or recovers from a crash"
    tell(f"{words}. Waiting for it, at most {most_s:.0f} s; Ctrl-C ends that.", error=True)
