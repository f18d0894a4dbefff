"""``feedscript set-up``: put a profile's limits into a launcher, at its cable."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import anyio
import click

from feedscript.cli.options import FILE, GARAGE, format_option, launcher_option, on_option
from feedscript.cli.output import Exit, answer, refuse
from feedscript.cli.setting_up.link import Connected, way_to
from feedscript.diagnostics import as_json
from feedscript.formats import headed
from feedscript.launcher.port import LauncherError
from feedscript.launcher.profile.model import Profile
from feedscript.launcher.tools import tool


@click.command("set-up")
@on_option()
@launcher_option(GARAGE)
@click.option(
    "--board",
    type=FILE,
    help="The board file: tachometer pulses, servo ends. Without it only the profile's limits.",
)
@click.option(
    "--launcher-name",
    "name",
    default="",
    help="What the launcher shall be called from now on, in lists and on the page: court-2.",
)
@format_option
def command(
    url: str, launcher: Path | None, board: Path | None, name: str, output_format: str
) -> None:
    """Store a profile's limits in a launcher, and read every one back.

    The launcher must be on its cable and not armed. Until it holds a whole set of limits and the
    hash of their profile it does not arm; a plan made for another profile is refused.
    """
    connect, profile = way_to(url, launcher, output_format)
    try:
        numbers = _board_numbers(board, output_format)
        done = anyio.run(_store, connect, profile, numbers, name)
    except LauncherError as error:
        refuse(Exit.LAUNCHER, [error.diagnostic], output_format)
    rows = [f"{row.number:>4}  {row.name:<22} {row.value:>8}" for row in done.stored]
    count = len(done.stored)
    rows.append(f"{count} numbers and the hash of {profile.name!r} stored and read back.")
    plain = headed(
        "set-up",
        {
            "stored": {row.name: row.value for row in done.stored},
            "diagnostics": [as_json(one) for one in done.diagnostics],
        },
    )
    answer(output_format, plain, "\n".join(rows), done.diagnostics)


def _board_numbers(board: Path | None, output_format: str) -> dict[int, int]:
    if board is None:
        return {}
    reading = tool("board-file")(board)
    if reading.diagnostics:
        refuse(Exit.PROGRAM, reading.diagnostics, output_format, {str(board): reading.text})
    numbers: dict[int, int] = reading.numbers
    return numbers


async def _store(connect: Connected, profile: Profile, board: dict[int, int], name: str) -> Any:
    async with connect() as launcher:
        return await tool("set-up")(launcher, profile, board, name)
