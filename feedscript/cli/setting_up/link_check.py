"""``feedscript link-check``: a guided test of a link without balls."""

from __future__ import annotations

import dataclasses
import secrets
from pathlib import Path
from typing import Any

import click

from feedscript.cli.output import Exit, format_option, leave, print_json, refuse, tell
from feedscript.cli.prove.launcher_choice import profile_option, read_profile_or_leave
from feedscript.diagnostics import Diagnostic
from feedscript.launcher.discovery import driver_for
from feedscript.launcher.port import ConnectOptions, LauncherError
from feedscript.launcher.tools import tool


@click.command("link-check")
@click.argument("url")
@profile_option
@click.option(
    "--person",
    is_flag=True,
    help="Somebody stands at the launcher: also test its watchdog and its emergency stop.",
)
@format_option
def command(url: str, profile: Path | None, person: bool, output_format: str) -> None:
    """Measure round trip, loss, clock and stop of a link; no ball is fed.

    With --person the launcher is armed for drives that may not turn at all.
    """
    import anyio

    found = driver_for(url)
    if isinstance(found, Diagnostic):
        refuse(Exit.LAUNCHER, [found], output_format)
    connect, address = found
    known = read_profile_or_leave(profile, output_format)
    options = ConnectOptions(profile=known, session=secrets.randbits(32))
    parts: list[Any] = []

    async def ask(what: str) -> None:
        tell(f"at the launcher: {what}", error=True)

    async def check() -> None:
        async with connect(address.rest, options) as launcher:
            async for part in tool("link-check")(launcher, ask, person=person):
                parts.append(part)
                if output_format == "text":
                    tell(f"{'fine' if part.fine else 'LOOK'}  {part.name}: {part.figure}")
                    if not part.fine:
                        tell(f"      {part.help}")

    try:
        anyio.run(check)
    except LauncherError as error:
        refuse(Exit.LAUNCHER, [error.diagnostic], output_format)
    fine = all(part.fine for part in parts)
    if output_format == "json":
        print_json({"ok": fine, "parts": [dataclasses.asdict(part) for part in parts]})
    leave(Exit.FINE if fine else Exit.LAUNCHER)
