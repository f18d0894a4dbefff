"""A launcher's address and profile, as the commands that reach one alone are told them."""

from __future__ import annotations

import secrets
from collections.abc import Callable
from contextlib import AbstractAsyncContextManager
from functools import partial
from pathlib import Path

from feedscript.cli.output import Exit, refuse
from feedscript.diagnostics import Diagnostic
from feedscript.launcher.discovery import driver_for
from feedscript.launcher.port import ConnectOptions, LauncherPort
from feedscript.launcher.profile.model import Profile
from feedscript.launcher.profile.read_profile import read_profile
from feedscript.settings import setting
from feedscript.shipped import profile_path

Connected = Callable[[], AbstractAsyncContextManager[LauncherPort]]


def way_to(url: str, launcher: Path | None, output_format: str) -> tuple[Connected, Profile]:
    """How to connect to the launcher at ``url``, and its profile; ends the command without them."""
    found = driver_for(url)
    if isinstance(found, Diagnostic):
        refuse(Exit.LAUNCHER, [found], output_format)
    connect, address = found
    options = options_for(launcher, output_format)
    return partial(connect, address.rest, options), options.profile


def options_for(launcher: Path | None, output_format: str) -> ConnectOptions:
    """What a driver is told: the profile, and a number for this session that is not 0."""
    profile = profile_at(launcher, output_format)
    return ConnectOptions(profile=profile, session=secrets.randbelow(2**32 - 1) + 1)


def profile_at(path: Path | None, output_format: str) -> Profile:
    """The profile at ``path``, or the shipped example; ends the command if it has errors."""
    reading = read_profile(path or profile_path(setting("launcher") or "garage"))
    if reading.profile is None:
        refuse(Exit.PROGRAM, reading.diagnostics, output_format, {reading.source: reading.text})
    return reading.profile
