"""Finds the profile of every launcher that a program declares.

A program names a file in its own folder or below it, or a shipped profile; the command line may
put another in its place. Where nothing is named, the shipped example stands in and a note says so.
"""

from __future__ import annotations

from pathlib import Path

import msgspec

from feedscript.diagnostics import Diagnostic, Page, Severity, Span
from feedscript.language.program import LauncherDecl, Program
from feedscript.launcher.profile.model import Profile
from feedscript.launcher.profile.read_profile import read_profile
from feedscript.memo import Memo
from feedscript.nearest import nearest
from feedscript.plain_file import is_plain, real_path
from feedscript.safety.examples import example
from feedscript.settings import setting
from feedscript.shipped import profile_path, shipped_profiles

EXAMPLE = "garage.toml"

EXAMPLE_PROFILE = Page(
    slug="example-profile",
    title="The example profile stands in",
    why=(
        "A program that names no profile is checked against the shipped, invented example. That "
        "is good for learning and for nothing else: your launcher has other limits."
    ),
    severity=Severity.NOTE,
    wrong=example(launcher="stands 1 m behind centre mark"),
    corrected=example(launcher='profile "garage.toml"  stands 1 m behind centre mark'),
)
NO_SUCH_PROFILE = Page(
    slug="no-such-profile",
    title="The profile is not there",
    why=(
        "A program names the profile of its launcher: a file in the program's folder or below it, "
        "or one of the shipped profiles by its name. Nothing outside is read."
    ),
    wrong=example(launcher='profile "garden.toml"  stands 1 m behind centre mark'),
    corrected=example(launcher='profile "garage.toml"  stands 1 m behind centre mark'),
)
PAGES = (EXAMPLE_PROFILE, NO_SUCH_PROFILE)


class NamedProfiles(msgspec.Struct, frozen=True):
    """Profiles in the order of the program's launchers; fewer where one was not to be had."""

    profiles: tuple[Profile, ...]
    names: tuple[str, ...]
    sources: dict[str, str]
    diagnostics: tuple[Diagnostic, ...]


def find_profiles(program: Program, path: Path, instead: Path | None, memo: Memo) -> NamedProfiles:
    """Read the profile of every launcher; ``instead`` stands in for all that are named."""
    profiles, names = [], []
    sources: dict[str, str] = {}
    diagnostics: list[Diagnostic] = []
    for launcher in program.launchers:
        found = instead or _named(launcher, path, diagnostics)
        if found is None:
            continue
        reading = read_profile(found, memo)
        sources[reading.source] = reading.text
        diagnostics += [one for one in reading.diagnostics if one not in diagnostics]
        if reading.profile is not None:
            profiles.append(reading.profile)
            names.append(found.name)
    return NamedProfiles(tuple(profiles), tuple(names), sources, tuple(diagnostics))


def _span(launcher: LauncherDecl) -> Span | None:
    return launcher.spans.get("profile", launcher.span)


def _named(launcher: LauncherDecl, path: Path, diagnostics: list[Diagnostic]) -> Path | None:
    shipped = shipped_profiles()
    if launcher.profile is None and (usual := setting("launcher")) is not None:
        return profile_path(usual)
    if launcher.profile is None:
        note = EXAMPLE_PROFILE.report(
            f"no profile is named: the invented example {EXAMPLE} stands in",
            help=f'write `profile "{EXAMPLE}"` in launcher, or name your own',
            span=_span(launcher),
        )
        if all(one.slug != note.slug for one in diagnostics):
            diagnostics.append(note)
        return shipped[EXAMPLE]
    home = real_path(path).parent
    own = real_path(home / launcher.profile)
    if own.is_relative_to(home) and is_plain(own):
        return own
    name = launcher.profile if launcher.profile.endswith(".toml") else f"{launcher.profile}.toml"
    if name in shipped:
        return shipped[name]
    close = nearest(name, shipped)
    diagnostics.append(
        NO_SUCH_PROFILE.report(
            f"there is no profile {launcher.profile!r} beside the program, nor among the shipped",
            help=f"did you mean {close!r}?" if close else f"shipped: {', '.join(shipped)}",
            span=_span(launcher),
        )
    )
    return None
