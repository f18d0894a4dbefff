"""Which launcher profile a command is about."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any, TypeVar

import click

from feedscript.cli.output import Exit, refuse
from feedscript.launcher.profile import Profile
from feedscript.launcher.profile_file import read_profile
from feedscript.shipped import shipped_folder

F = TypeVar("F", bound=Callable[..., Any])


def profile_option(command: F) -> F:
    """``--profile FILE``, passed on as ``profile``."""
    return click.option(
        "--profile",
        type=click.Path(path_type=Path, dir_okay=False),
        help="The launcher's profile; without it, the shipped invented example.",
    )(command)


def read_profile_or_leave(path: Path | None, output_format: str) -> Profile:
    """The profile at ``path``, or the shipped example; ends the command if it has errors."""
    reading = read_profile(path or shipped_folder() / "launchers" / "garage.toml")
    if reading.profile is None:
        refuse(Exit.PROGRAM, reading.diagnostics, output_format, {reading.source: reading.text})
    return reading.profile
