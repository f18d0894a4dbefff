"""``feedscript find``: serial ports, and launchers in radio range."""

from __future__ import annotations

from functools import partial

import click
import msgspec

from feedscript.cli.options import format_option
from feedscript.cli.output import Exit, print_json, refuse, tell
from feedscript.formats import headed
from feedscript.launcher.port import LauncherError
from feedscript.launcher.tools import tool


@click.command()
@click.option("--knock", is_flag=True, help="Ask each port who is there (hello; changes nothing).")
@click.option("--seconds", type=click.FloatRange(0, 60), default=4.0, show_default=True,
              help="How long to listen for Bluetooth; 0 leaves it out.")  # fmt: skip
@format_option
def command(knock: bool, seconds: float, output_format: str) -> None:
    """List serial ports and the launchers that Bluetooth hears."""
    import anyio

    try:
        search = tool("find")
    except LauncherError as error:
        refuse(Exit.LAUNCHER, [error.diagnostic], output_format)
    found, troubles = anyio.run(partial(search, seconds, knocks=knock))
    if output_format == "json":
        plain = {"found": msgspec.to_builtins(found), "troubles": troubles}
        print_json(headed("find", plain))
        return
    for each in found:
        facts = [each.what, f"usb {each.usb}" if each.usb else "", each.stable]
        facts += [f"launcher: {each.launcher}" if each.launcher else each.trouble]
        tell(f"{each.address}  " + "; ".join(fact for fact in facts if fact))
    if not found:
        tell("nothing found")
    for trouble in troubles:
        tell(f"not searched: {trouble}", error=True)
