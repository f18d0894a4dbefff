"""How a device gets its first code: a link, and the same as a QR code."""

from __future__ import annotations

import io
import socket

import segno


def qr_svg(text: str) -> str:
    """The QR code (ISO/IEC 18004) as inline SVG, dark on white with its quiet zone."""
    out = io.BytesIO()
    segno.make(text, error="m").save(
        out, kind="svg", border=4, xmldecl=False, svgns=True, light="white", omitsize=True
    )
    return out.getvalue().decode()


def qr_terminal(text: str) -> str:
    """The same for a terminal, two rows of modules in a line; white on black whatever the
    terminal's own colours are, since many readers do not take a code whose colours are swapped."""
    out = io.StringIO()
    segno.make(text, error="m").terminal(out, border=2, compact=True)
    return "".join(f"\x1b[97;40m{line}\x1b[0m\n" for line in out.getvalue().splitlines())


def court_address() -> str | None:
    """This machine's address on the network it is joined to; None when it is on none.

    Connecting a datagram socket sends nothing; it only asks the system which way it would go. The
    target is a documentation address (RFC 5737), so that no real host is ever meant.
    """
    probe = socket.socket(socket.AF_INET, socket.SOCK_DGRAM)
    try:
        probe.connect(("192.0.2.1", 9))
        address = str(probe.getsockname()[0])
    except OSError:
        return None
    finally:
        probe.close()
    return None if address.startswith("0.") else address
