"""``feedscript set-up``: put a profile's limits into a launcher, at its cable."""

from __future__ import annotations

import secrets
from pathlib import Path
from typing import Any

import anyio
import click

from feedscript.cli.output import Exit, format_option, print_json, refuse, tell
from feedscript.cli.prove.launcher_choice import profile_option, read_profile_or_leave
from feedscript.diagnostics import Diagnostic
from feedscript.launcher.discovery import driver_for
from feedscript.launcher.port import ConnectOptions, LauncherError
from feedscript.launcher.profile.model import Profile
from feedscript.launcher.tools import tool


@click.command("set-up")
@click.argument("url")
@profile_option
@click.option(
    "--board",
    type=click.Path(path_type=Path, dir_okay=False),
    help="The board file: tachometer pulses, servo ends. Without it only the profile's limits.",
)
@format_option
def command(url: str, profile: Path | None, board: Path | None, output_format: str) -> None:
    """Store a profile's limits in the launcher at URL, and read every one back.

    The launcher must be at its cable and not armed. Until it holds a whole set of limits and the
    hash of their profile it does not arm; a plan made for another profile is refused.
    """
    known = read_profile_or_leave(profile, output_format)
    try:
        numbers = _board_numbers(board, output_format)
        stored = anyio.run(_store, url, known, numbers)
    except LauncherError as error:
        refuse(Exit.LAUNCHER, [error.diagnostic], output_format)
    if output_format == "json":
        print_json({"stored": {row.name: row.value for row in stored}})
        return
    for row in stored:
        tell(f"{row.number:>4}  {row.name:<22} {row.value:>8}")
    tell(f"{len(stored)} numbers and the hash of {known.name!r} stored and read back.")


def _board_numbers(board: Path | None, output_format: str) -> dict[int, int]:
    if board is None:
        return {}
    reading = tool("board-file")(board)
    if reading.diagnostics:
        refuse(Exit.PROGRAM, reading.diagnostics, output_format)
    numbers: dict[int, int] = reading.numbers
    return numbers


async def _store(url: str, profile: Profile, board: dict[int, int]) -> Any:
    driver = driver_for(url)
    if isinstance(driver, Diagnostic):
        raise LauncherError(driver)
    connect, address = driver
    options = ConnectOptions(profile=profile, session=secrets.randbelow(2**32 - 1) + 1)
    async with connect(address.rest, options) as launcher:
        return await tool("set-up")(launcher, profile, board)
