"""``feedscript pair``: put a key into a launcher over its cable."""

from __future__ import annotations

import secrets
from pathlib import Path

import click

from feedscript.cli.output import Exit, format_option, print_json, refuse, tell
from feedscript.cli.prove.launcher_choice import profile_option, read_profile_or_leave
from feedscript.launcher.port import ConnectOptions, LauncherError
from feedscript.launcher.tools import tool


@click.command()
@click.argument("url")
@profile_option
@format_option
def command(url: str, profile: Path | None, output_format: str) -> None:
    """Pair the launcher on its cable (serial:DEVICE) with this user.

    From then on this user, and nobody else, can arm it over Bluetooth or a network.
    """
    import anyio

    if not url.startswith("serial:"):
        raise click.UsageError("pairing needs the cable: serial:DEVICE")
    known = read_profile_or_leave(profile, output_format)
    options = ConnectOptions(profile=known, session=secrets.randbits(32))
    try:
        serial, place = anyio.run(tool("pair"), url.removeprefix("serial:"), options)
    except LauncherError as error:
        refuse(Exit.LAUNCHER, [error.diagnostic], output_format)
    if output_format == "json":
        print_json({"serial": serial, "key_file": place})
    else:
        tell(f"paired with {serial}; the key lies in {place}")
