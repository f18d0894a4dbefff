"""``feedscript club serve``: the server of a club."""

from __future__ import annotations

from contextlib import ExitStack
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import TYPE_CHECKING

import click
import msgspec

from feedscript.cli.club.store_option import opened, store_option
from feedscript.cli.options import FILE, certificate_of, certificate_options, format_option
from feedscript.cli.output import Exit, answer, refuse
from feedscript.club.desks import MOST_DESKS
from feedscript.club.refusals import FOR_OIDC, what_is_missing
from feedscript.diagnostics import FeedscriptError
from feedscript.formats import headed

if TYPE_CHECKING:
    from feedscript.club.people.oidc import Oidc
    from feedscript.club.store.store import Store
    from feedscript.console.listening import Certificate


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
@click.option(
    "--demo",
    is_flag=True,
    help="An invented club, whose courts play on simulated launchers, in a folder that goes when "
    "it ends.",
)
@click.option(
    "--desks",
    "most_desks",
    type=click.IntRange(0, 200),
    default=MOST_DESKS,
    show_default=True,
    help="So many coaches at desks of this process at once, each a process of its own; 0 for none.",
)
@click.option(
    "--oidc",
    "issuer",
    metavar="URL",
    help="Let people sign in by this service too (OpenID Connect), by its issuer's address. Extra "
    "`club-oidc`.",
)
@click.option("--oidc-client", "client", metavar="ID", help="What this server is called there.")
@click.option(
    "--oidc-secret", "secret", type=FILE, help="A file with the secret that the service gave it."
)
@certificate_options
@format_option
def command(
    address: str | None,
    bind: str | None,
    names: tuple[str, ...],
    library_key: Path | None,
    demo: bool,
    most_desks: int,
    issuer: str | None,
    client: str | None,
    secret: Path | None,
    tls_certificate: Path | None,
    tls_key: Path | None,
    output_format: str,
) -> None:
    """Serve a club: courts send it what happens, and coaches see and stop them there.

    Until Ctrl-C. Courts join with a code (`feedscript club invite`). Several of these may serve one
    PostgreSQL. An address that others reach needs a certificate.
    """
    if len({one is None for one in (issuer, client, secret)}) > 1:
        raise click.UsageError("--oidc, --oidc-client and --oidc-secret belong together")
    if demo and (address or library_key or bind or names or tls_certificate or tls_key or issuer):
        raise click.UsageError("--demo serves a club of its own, to this machine alone")
    with ExitStack() as at_the_end:
        folder = Path(at_the_end.enter_context(TemporaryDirectory())) if demo else None
        if folder is not None:
            address, library_key = f"sqlite:///{folder / 'club.sqlite'}", folder / "library.key"
        store = opened(address, output_format)
        certificate = certificate_of(tls_certificate, tls_key)
        oidc = _service(issuer, client, secret, output_format)
        served = _Served(store, bind, names, library_key, certificate, most_desks, oidc)
        _serve(served, folder, output_format)


class _Served(msgspec.Struct):
    """What is to be served, and where."""

    store: Store
    bind: str | None
    names: tuple[str, ...]
    library_key: Path | None
    certificate: Certificate | None
    most_desks: int
    oidc: Oidc | None


def _service(
    issuer: str | None, client: str | None, secret: Path | None, output_format: str
) -> Oidc | None:
    """The service by which people may sign in, if one was named."""
    if issuer is None or client is None or secret is None:
        return None
    missing = what_is_missing(FOR_OIDC, "club-oidc")
    if missing is not None:
        refuse(Exit.USAGE, (missing,), output_format)
    from feedscript.club.people.oidc import Oidc, read_service

    try:
        return Oidc(read_service(issuer, client, secret))
    except FeedscriptError as failed:
        refuse(Exit.USAGE, (failed.diagnostic,), output_format)


def _serve(asked: _Served, demo: Path | None, output_format: str) -> None:
    store = asked.store
    from feedscript.club.library.signing import club_key, default_key_path
    from feedscript.club.server.address import DEFAULT, listen_at
    from feedscript.club.server.serve import serve_club

    try:
        key = club_key(asked.library_key or default_key_path())
        at = "127.0.0.1:0" if demo else asked.bind or DEFAULT
        reached = listen_at(at, asked.names, asked.certificate)
    except FeedscriptError as failed:
        refuse(Exit.USAGE, (failed.diagnostic,), output_format)

    def told(url: str, invitation: str) -> None:
        first = f"Its first head coach comes in here, within a day: {invitation}\n"
        words = f"The club: {url}\n{first if invitation else ''}Its store: {store.name}\n"
        plain = {"url": url, "invitation": invitation or None, "store": store.name}
        plain = headed("club-serve", plain)
        answer(output_format, plain, f"{words}Ctrl-C ends it.")

    if demo is None:
        serve_club(store, reached, key, told, asked.most_desks, asked.oidc)
        return
    from feedscript.club.demo import fill_library, join_all, playing

    fill_library(store, key)
    with playing(join_all(store, demo, reached.url)):
        serve_club(store, reached, key, told, asked.most_desks)
