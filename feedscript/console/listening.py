"""Where the page is listened for: the address, the port, and the certificate where there is one."""

from __future__ import annotations

import socket
import ssl
from pathlib import Path

import msgspec

from feedscript.console.pairing import court_address
from feedscript.diagnostics import FeedscriptError, Page
from feedscript.plain_file import see_that_it_is_a_file

CONSOLE_UNREACHABLE = Page(
    slug="console-unreachable",
    title="The court-side page cannot be served",
    why=(
        "The page is served from this machine: by itself alone, or on the court's network when "
        "that was asked for. The port may be taken, or the machine may be on no network."
    ),
)

BAD_CERTIFICATE = Page(
    slug="bad-certificate",
    title="The page's certificate cannot be used",
    why=(
        "With `--tls-certificate` and `--tls-key` (PEM files) the page comes over https: nobody on "
        "the court's network can read along, and a phone's browser keeps its screen on. The two "
        "must belong together; the certificate must be for this machine's address, and the phone "
        "must trust whoever issued it."
    ),
)

LOOPBACK = "127.0.0.1"
#: So many connections may wait to be taken; a crowd that comes at once keeps no phone waiting for
#: the second in which it would knock again. Linux grants up to 4,096 (net.core.somaxconn).
BACKLOG = 1024


class Listening(msgspec.Struct, frozen=True, eq=False):
    """A socket that is bound, and the address that other devices reach it by."""

    socket: socket.socket
    reached: str  # host:port
    on_court_network: bool
    tls: ssl.SSLContext | None = None


class Certificate(msgspec.Struct, frozen=True):
    """Two PEM files."""

    certificate: Path
    key: Path


def listen(on_court_network: bool, port: int, certificate: Certificate | None = None) -> Listening:
    """Take the port, before any lesson is begun.

    Raises FeedscriptError when the port is taken, there is no network or the certificate is none.
    """
    tls = None if certificate is None else tls_of(certificate)
    address = court_address() if on_court_network else LOOPBACK
    if address is None:
        raise FeedscriptError(
            CONSOLE_UNREACHABLE.report(
                "this machine is on no network",
                help="join the court's network (a phone's hotspot will do), then start again",
            )
        )
    listener = bound(address, port)
    reached = f"{address}:{listener.getsockname()[1]}"
    return Listening(listener, reached, on_court_network, tls)


def bound(address: str, port: int) -> socket.socket:
    """A socket that listens at an address of this machine. Raises FeedscriptError."""
    family = socket.AF_INET6 if ":" in address else socket.AF_INET
    listener = socket.socket(family, socket.SOCK_STREAM)
    listener.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        listener.bind((address, port))
        listener.listen(BACKLOG)
    except OSError as trouble:
        listener.close()
        raise FeedscriptError(
            CONSOLE_UNREACHABLE.report(
                f"port {port} at {address} cannot be used: {trouble.strerror}",
                help="choose another with --port, or 0 for any that is free",
            )
        ) from trouble
    listener.setblocking(False)
    return listener


def tls_of(files: Certificate) -> ssl.SSLContext:
    """What https is spoken with. Raises FeedscriptError for files that are none."""
    context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    try:
        for file in (files.certificate, files.key):
            see_that_it_is_a_file(file)
        context.load_cert_chain(files.certificate, files.key)
    except OSError as trouble:  # ssl.SSLError is one
        what = trouble.strerror or getattr(trouble, "reason", None) or str(trouble)
        raise FeedscriptError(
            BAD_CERTIFICATE.report(
                f"certificate and key cannot be read together: {what}",
                device=str(files.certificate),
                help="name the two PEM files that belong together",
            )
        ) from trouble
    return context
