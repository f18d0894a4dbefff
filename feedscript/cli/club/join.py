"""``feedscript club join``: this court's computer joins its club."""

from __future__ import annotations

import sys
from pathlib import Path
from platform import node

import click

from feedscript.cli.options import FILE, format_option
from feedscript.cli.output import Exit, answer, refuse
from feedscript.club.link.membership import (
    CLUB_ADDRESS,
    NO_MEMBER,
    keep_membership,
    read_membership,
    server_address,
)
from feedscript.club.refusals import OF_A_COURT, what_is_missing
from feedscript.club_library import club_folder, forget
from feedscript.diagnostics import Diagnostic, FeedscriptError
from feedscript.formats import headed
from feedscript.plain_file import read_plain

#: A longer file is no server's certificate.
_MOST_BYTES = 1_000_000

#: No court's name is longer at the club.
MOST_NAME = 80


@click.command()
@click.argument("address")
@click.option("--code", help="The code that the club gave; without it, it is asked for.")
@click.option(
    "--as",
    "court",
    metavar="NAME",
    help="What this court is called at the club; without it, this computer's name.",
)
@click.option(
    "--club-certificate",
    type=FILE,
    help="The certificate (PEM) of the club's server, where nobody that every computer trusts has "
    "signed it.",
)
@click.option(
    "--again", is_flag=True, help="Join though this computer belongs to a club; its key is lost."
)
@format_option
def command(
    address: str,
    code: str | None,
    court: str | None,
    club_certificate: Path | None,
    again: bool,
    output_format: str,
) -> None:
    """Join the club at ADDRESS with a code that it gives (`feedscript club invite`).

    From then on `run` and `court-side` tell the club what happens while it happens, and somebody
    there can stop a lesson. Nobody there can start, arm or change one, and without the club
    everything goes on as before.
    """
    missing = what_is_missing(OF_A_COURT)
    if missing is not None:
        refuse(Exit.USAGE, (missing,), output_format)
    try:
        url = server_address(address)
        _see_that_it_is_free(again)
        certificate = "" if club_certificate is None else _read(club_certificate)
    except FeedscriptError as failed:
        refuse(Exit.USAGE, (failed.diagnostic,), output_format)
    code = code or _asked_code()
    name = (court or node() or "court")[:MOST_NAME]
    _join(url, code.strip(), name, certificate, output_format)


def _join(url: str, code: str, name: str, certificate: str, output_format: str) -> None:
    import anyio

    from feedscript.club.link.door import join

    try:
        membership = anyio.run(join, url, code, name, certificate)
        path = keep_membership(membership)
        forget(club_folder())  # another club has another library, and another key
    except FeedscriptError as failed:
        refuse(Exit.LAUNCHER, (failed.diagnostic,), output_format)
    except OSError as trouble:
        refuse(Exit.LAUNCHER, (_not_kept(trouble),), output_format)
    words = (
        f"This computer is {name!r} at {url} from now on.\nIts key: {path}\n"
        "`feedscript club push` sends what it has; lessons are sent as they run."
    )
    plain = {"club": url, "court": name, "host": membership.host, "file": str(path)}
    answer(output_format, headed("club-join", plain), words)


def _asked_code() -> str:
    if not sys.stdin.isatty():
        raise click.UsageError("give the club's code: --code CODE")
    return str(click.prompt("The club's code"))


def _see_that_it_is_free(again: bool) -> None:
    known = None if again else read_membership()
    if known is not None:
        raise FeedscriptError(
            NO_MEMBER.report(
                f"this computer is {known.name!r} at {known.url} already",
                help="add --again to join anew; what it has sent is not sent again",
            )
        )


def _read(path: Path) -> str:
    try:
        return read_plain(path, _MOST_BYTES).decode("ascii")
    except (OSError, UnicodeDecodeError) as trouble:
        raise FeedscriptError(
            CLUB_ADDRESS.report(
                f"the club's certificate cannot be read: {trouble}",
                device=str(path),
                help="name the server's certificate as a PEM file",
            )
        ) from trouble


def _not_kept(trouble: OSError) -> Diagnostic:
    return NO_MEMBER.report(
        f"the key cannot be written down: {trouble}",
        help="free the disk, or make the folder writable, and ask the club for a new code",
    )
