"""``feedscript club serve``: the server of a club."""

from __future__ import annotations

from pathlib import Path

import click

from feedscript.cli.club.store_option import opened, store_option
from feedscript.cli.options import FILE, certificate_of, certificate_options, format_option
from feedscript.cli.output import Exit, answer, refuse
from feedscript.diagnostics import FeedscriptError


@click.command()
@store_option
@click.option(
    "--bind",
    metavar="ADDRESS:PORT",
    help="Where to listen; without it, 127.0.0.1:8420, for this machine alone.",
)
@click.option(
    "--name",
    "names",
    multiple=True,
    help="A name by which browsers and courts reach the server; the first is the one told.",
)
@click.option(
    "--library-key",
    type=FILE,
    help="The key that signs the club's library, the same for every process; without it, a file "
    "beside your journal, made when it is not there.",
)
@certificate_options
@format_option
def command(
    address: str | None,
    bind: str | None,
    names: tuple[str, ...],
    library_key: Path | None,
    tls_certificate: Path | None,
    tls_key: Path | None,
    output_format: str,
) -> None:
    """Serve a club: courts send it what happens, and coaches see and stop them there.

    Until Ctrl-C. Courts join with a code (`feedscript club invite`). Several of these may serve one
    PostgreSQL. An address that others reach needs a certificate.
    """
    store = opened(address, output_format)
    from feedscript.club.library.signing import club_key, default_key_path
    from feedscript.club.server.address import DEFAULT, listen_at
    from feedscript.club.server.serve import serve_club

    try:
        files = certificate_of(tls_certificate, tls_key)
        key = club_key(library_key or default_key_path())
        reached = listen_at(bind or DEFAULT, names, files)
    except FeedscriptError as failed:
        refuse(Exit.USAGE, (failed.diagnostic,), output_format)

    def told(url: str, invitation: str) -> None:
        first = f"Its first head coach comes in here, within a day: {invitation}\n"
        words = f"The club: {url}\n{first if invitation else ''}Its store: {store.name}\n"
        plain = {"url": url, "invitation": invitation or None, "store": store.name}
        answer(output_format, plain, f"{words}Ctrl-C ends it.")

    serve_club(store, reached, key, told)
