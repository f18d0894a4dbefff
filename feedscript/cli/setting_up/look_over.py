"""``feedscript look-over``: what keeps this machine from reaching a launcher."""

from __future__ import annotations

import click
import msgspec

from feedscript.cli.options import format_option
from feedscript.cli.output import Exit, leave, print_json, refuse, tell
from feedscript.formats import headed
from feedscript.launcher.port import LauncherError
from feedscript.launcher.tools import tool


@click.command()
@format_option
def command(output_format: str) -> None:
    """Look at ports, permissions and Bluetooth, and name the one command that fixes each trouble.

    Ends with 3 when no way to a launcher is open: neither a serial port nor Bluetooth.
    """
    try:
        findings = tool("look-over")()
    except LauncherError as error:
        refuse(Exit.LAUNCHER, [error.diagnostic], output_format)
    radio = [each for each in findings if each.what.startswith("Bluetooth")]
    ports = [each for each in findings if each.what.startswith(("/dev/", "COM"))]
    reachable = any(port.fine for port in ports) or all(each.fine for each in radio)
    if output_format == "json":
        plain = {"ok": reachable, "findings": msgspec.to_builtins(findings)}
        print_json(headed("look-over", plain))
    else:
        for each in findings:
            tell(f"{'fine' if each.fine else 'LOOK'}  {each.what}: {each.seen}")
            if not each.fine:
                tell(f"      {each.fix}")
        tell(
            "a way to a launcher is open; `feedscript find --knock` asks who is there"
            if reachable
            else "no way to a launcher is open"
        )
    leave(Exit.FINE if reachable else Exit.LAUNCHER)
