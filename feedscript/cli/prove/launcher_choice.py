"""Which launcher profile a command is about."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any, TypeVar

import click

from feedscript.cli.output import Exit, refuse
from feedscript.launcher.profile.model import Profile
from feedscript.launcher.profile.read_profile import read_profile
from feedscript.shipped import profile_path, shipped_profiles

F = TypeVar("F", bound=Callable[..., Any])


class ProfileFile(click.ParamType[Path]):
    """A profile: a file, or a shipped one by its name."""

    name = "profile"

    def convert(self, value: str, param: click.Parameter | None, ctx: click.Context | None) -> Path:
        del param, ctx
        return profile_path(value)


PROFILE_FILE = ProfileFile()


def profile_option(command: F) -> F:
    """``--profile FILE``, passed on as ``profile``."""
    return click.option(
        "--profile",
        type=PROFILE_FILE,
        help="The launcher's profile, a file or a shipped one by its name; without it, garage.",
    )(command)


def read_profile_or_leave(path: Path | None, output_format: str) -> Profile:
    """The profile at ``path``, or the shipped example; ends the command if it has errors."""
    reading = read_profile(path or shipped_profiles()["garage.toml"])
    if reading.profile is None:
        refuse(Exit.PROGRAM, reading.diagnostics, output_format, {reading.source: reading.text})
    return reading.profile
