"""Where the club's server listens, and by which names it is reached."""

from __future__ import annotations

import ipaddress
from collections.abc import Sequence

import msgspec

from feedscript.club.refusals import BAD_BIND, NEEDS_TLS
from feedscript.console.listening import LOOPBACK, Certificate, Listening, bound, tls_of
from feedscript.diagnostics import FeedscriptError

DEFAULT = f"{LOOPBACK}:8420"


class Reached(msgspec.Struct, frozen=True, eq=False):
    """A socket that listens, and the names by which the server may be asked for."""

    listening: Listening
    names: tuple[str, ...]

    @property
    def url(self) -> str:
        scheme = "http" if self.listening.tls is None else "https"
        return f"{scheme}://{self.listening.reached}"


def listen_at(bind: str, names: Sequence[str], certificate: Certificate | None) -> Reached:
    """Listen at ``ADDRESS:PORT``. Raises FeedscriptError for no such address of this machine, and
    for one that others reach without a certificate."""
    address, port = _parts(bind)
    if certificate is None and not address.is_loopback:
        raise FeedscriptError(
            NEEDS_TLS.report(
                f"{bind} is reached by others, and no certificate was given",
                help="give --tls-certificate and --tls-key, or stand behind a server that speaks "
                f"https and listen at {DEFAULT}",
            )
        )
    if address.is_unspecified and not names:
        raise FeedscriptError(
            BAD_BIND.report(
                f"{bind} says nothing of the name by which the server is reached",
                help="give it with --name, as browsers and courts will write it",
            )
        )
    tls = None if certificate is None else tls_of(certificate)
    listener = bound(str(address), port)
    own = (_written(address), *(("localhost",) if address.is_loopback else ()))
    reached = f"{(*names, own[0])[0]}:{listener.getsockname()[1]}"
    listening = Listening(listener, reached, not address.is_loopback, tls)
    return Reached(listening, (*names, *own))


def _parts(bind: str) -> tuple[ipaddress.IPv4Address | ipaddress.IPv6Address, int]:
    host, _, port = bind.rpartition(":")
    try:
        number = int(port)
        if not 0 <= number < 65536:
            raise ValueError(port)
        return ipaddress.ip_address(host.removeprefix("[").removesuffix("]")), number
    except ValueError:
        raise FeedscriptError(
            BAD_BIND.report(
                f"{bind!r} is no address of this machine with a port",
                help=f"write it as {DEFAULT}, 192.0.2.7:8443 or [::1]:8420",
            )
        ) from None


def _written(address: ipaddress.IPv4Address | ipaddress.IPv6Address) -> str:
    """As it stands in a Host header."""
    return f"[{address}]" if address.version == 6 else str(address)
