"""Finding the driver for a launcher's URL among what is installed.

A driver announces itself by the entry-point group ``feedscript.launchers``; the name is the URL's
scheme. Nothing is imported until its scheme is asked for, and a missing launcher is never replaced
by another one.
"""

from __future__ import annotations

from importlib.metadata import EntryPoint, entry_points
from typing import cast

import msgspec

from feedscript.diagnostics import Diagnostic, Page
from feedscript.launcher.port import ENTRY_POINT_GROUP, Connect
from feedscript.nearest import nearest

UNKNOWN_LAUNCHER = Page(
    slug="unknown-launcher",
    title="A launcher's address that nothing here can reach",
    why="""An address is a scheme and what the driver needs, such as `serial:/dev/ttyUSB0`. Each
scheme belongs to a driver that is installed on this machine. There is no default: a lesson meant
for a launcher must never run against another one, or against the stand-in.""",
)

DRIVER_BROKEN = Page(
    slug="driver-broken",
    title="A driver that is installed and cannot be loaded",
    why="""The driver was found, and importing it failed: most often a library that it needs is not
installed. Optional transports come as extras, for instance `pip install 'feedscript[ble]'`.""",
)


class Address(msgspec.Struct, frozen=True):
    """A launcher's URL in two: the scheme, and what is left for the driver."""

    scheme: str
    rest: str


def schemes() -> dict[str, EntryPoint]:
    """Every scheme that is installed, by name; the first of two alike counts."""
    found: dict[str, EntryPoint] = {}
    for entry in entry_points(group=ENTRY_POINT_GROUP):
        found.setdefault(entry.name, entry)
    return dict(sorted(found.items()))


def parse_address(url: str) -> Address | Diagnostic:
    """Split ``serial:/dev/ttyUSB0``; a diagnostic where there is no scheme."""
    scheme, colon, rest = url.strip().partition(":")
    if colon and scheme:
        return Address(scheme.lower(), rest)
    return UNKNOWN_LAUNCHER.report(
        f"{url!r} has no scheme", help=f"write SCHEME:ADDRESS; {_what_there_is()}", device=url
    )


def driver_for(url: str) -> tuple[Connect, Address] | Diagnostic:
    """The driver's opener for a URL and the parsed address, or why there is none."""
    address = parse_address(url)
    if isinstance(address, Diagnostic):
        return address
    known = schemes()
    entry = known.get(address.scheme)
    if entry is None:
        near = nearest(address.scheme, known)
        hint = f"did you mean `{near}:`? " if near else ""
        return UNKNOWN_LAUNCHER.report(
            f"no driver is installed for {address.scheme + ':'!r}",
            help=hint + _what_there_is(),
            device=url,
        )
    try:
        return cast(Connect, entry.load()), address
    except (ImportError, AttributeError) as error:
        return DRIVER_BROKEN.report(
            f"the driver for {address.scheme + ':'!r} ({entry.value}) cannot be loaded: {error}",
            help="install what it names, or reinstall the driver's package",
            device=url,
        )


def _what_there_is() -> str:
    return "installed: " + (", ".join(f"{scheme}:" for scheme in schemes()) or "no driver at all")
