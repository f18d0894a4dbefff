"""``feedscript link-check``: a guided test of a link without balls."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click
import msgspec

from feedscript.cli.options import GARAGE, format_option, launcher_option, on_option
from feedscript.cli.output import Exit, leave, print_json, refuse, tell
from feedscript.cli.setting_up.link import way_to
from feedscript.formats import headed
from feedscript.launcher.port import LauncherError
from feedscript.launcher.tools import tool


@click.command("link-check")
@on_option()
@launcher_option(GARAGE)
@click.option(
    "--person",
    is_flag=True,
    help="Somebody stands at the launcher: also test its watchdog and its emergency stop.",
)
@format_option
def command(url: str, launcher: Path | None, person: bool, output_format: str) -> None:
    """Measure round trip, loss, clock and stop of a link; no ball is fed.

    With --person the launcher is armed with a highest speed of zero: its wheels cannot turn.
    """
    import anyio

    connect, _ = way_to(url, launcher, output_format)
    parts: list[Any] = []

    async def check() -> None:
        async with connect() as port:
            async for part in tool("link-check")(port, _ask, person=person):
                parts.append(part)
                if output_format == "text":
                    _tell(part)

    try:
        anyio.run(check)
    except LauncherError as error:
        refuse(Exit.LAUNCHER, [error.diagnostic], output_format)
    fine = all(part.fine for part in parts)
    if output_format == "json":
        print_json(headed("link-check", {"ok": fine, "parts": msgspec.to_builtins(parts)}))
    leave(Exit.FINE if fine else Exit.LAUNCHER)


async def _ask(what: str) -> None:
    tell(f"at the launcher: {what}", error=True)


def _tell(part: Any) -> None:
    tell(f"{'fine' if part.fine else 'LOOK'}  {part.name}: {part.figure}")
    if not part.fine:
        tell(f"      {part.help}")
