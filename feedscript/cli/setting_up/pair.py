"""``feedscript pair``: put a key into a launcher over its cable."""

from __future__ import annotations

from pathlib import Path

import click

from feedscript.cli.options import GARAGE, format_option, launcher_option, on_option
from feedscript.cli.output import Exit, answer, refuse
from feedscript.cli.setting_up.link import options_for
from feedscript.formats import headed
from feedscript.launcher.port import LauncherError
from feedscript.launcher.tools import tool


@click.command()
@on_option()
@launcher_option(GARAGE)
@format_option
def command(url: str, launcher: Path | None, output_format: str) -> None:
    """Pair the launcher on its cable (--on serial:DEVICE) with this user.

    From then on this user, and nobody else, can arm it over Bluetooth or a network.
    """
    import anyio

    if not url.startswith("serial:"):
        raise click.UsageError("pairing needs the cable: --on serial:DEVICE")
    options = options_for(launcher, output_format)
    try:
        serial, place = anyio.run(tool("pair"), url.removeprefix("serial:"), options)
    except LauncherError as error:
        refuse(Exit.LAUNCHER, [error.diagnostic], output_format)
    words = f"paired with {serial}; the key lies in {place}"
    answer(output_format, headed("pair", {"serial": serial, "key_file": place}), words)
