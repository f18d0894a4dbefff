"""Finds the profile of every launcher that a program declares.

A program names a file in its own folder or below it, the club's as ``club/NAME``, or a shipped
profile; the command line may put another in its place. Where nothing is named, the shipped example
stands in and a note says so.
"""

from __future__ import annotations

import hashlib
import os
from pathlib import Path

import msgspec

from feedscript import club_library
from feedscript.club_library import CLUB, PROFILE, Pin
from feedscript.diagnostics import Diagnostic, Page, Severity, Span
from feedscript.language.program import LauncherDecl, Program
from feedscript.launcher.profile.model import Profile
from feedscript.launcher.profile.read_profile import ProfileReading, profile_in, read_profile
from feedscript.memo import Memo
from feedscript.nearest import nearest
from feedscript.plain_file import is_plain, real_path
from feedscript.safety.examples import example
from feedscript.settings import setting
from feedscript.shipped import club_profile, profile_path, shipped_profiles

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
        "one of your club's (`club/NAME.toml`, as approved there last and signed), or one of the "
        "shipped profiles by its name. Nothing outside is read."
    ),
    wrong=example(launcher='profile "garden.toml"  stands 1 m behind centre mark'),
    corrected=example(launcher='profile "garage.toml"  stands 1 m behind centre mark'),
)
PAGES = (EXAMPLE_PROFILE, NO_SUCH_PROFILE)


class NamedProfiles(msgspec.Struct, frozen=True):
    """Profiles in the order of the program's launchers; fewer where one was not to be had.
    ``pins`` says which of them are the club's, and which texts."""

    profiles: tuple[Profile, ...]
    names: tuple[str, ...]
    sources: dict[str, str]
    diagnostics: tuple[Diagnostic, ...]
    pins: tuple[Pin, ...] = ()


class _Found(msgspec.Struct, frozen=True):
    """A profile that was read, and what it is called."""

    reading: ProfileReading
    name: str
    pin: Pin | None = None


def find_profiles(program: Program, path: Path, instead: Path | None, memo: Memo) -> NamedProfiles:
    """Read the profile of every launcher; ``instead`` stands in for all that are named."""
    found: list[_Found] = []
    sources: dict[str, str] = {}
    diagnostics: list[Diagnostic] = []
    usual = setting("launcher")
    for launcher in program.launchers:
        one = _found(launcher, path, instead, memo)
        if isinstance(one, Diagnostic):
            diagnostics.append(one)
            continue
        if instead is None and launcher.profile is None and usual is None:
            diagnostics += [note for note in (_stands_in(launcher),) if _is_new(note, diagnostics)]
        sources[one.reading.source] = one.reading.text
        diagnostics += [each for each in one.reading.diagnostics if each not in diagnostics]
        if one.reading.profile is not None:
            found.append(one)
    return NamedProfiles(
        tuple(one.reading.profile for one in found if one.reading.profile is not None),
        tuple(one.name for one in found),
        sources,
        tuple(diagnostics),
        tuple(sorted({one.pin for one in found if one.pin is not None})),
    )


def _found(
    launcher: LauncherDecl, path: Path, instead: Path | None, memo: Memo
) -> _Found | Diagnostic:
    usual = setting("launcher") if launcher.profile is None else None
    if instead is None and usual is not None:
        if usual.startswith(CLUB):
            return _of_the_club(usual, launcher, memo)
        instead = profile_path(usual)
    if instead is not None:
        of_the_club = club_library.profile_name(instead)
        if of_the_club is not None:
            return _of_the_club(CLUB + of_the_club, launcher, memo)
        return _Found(read_profile(instead, memo), instead.name)
    if launcher.profile is not None and launcher.profile.startswith(CLUB):
        beside = real_path(path).parent / launcher.profile
        if is_plain(beside):
            return _not_there(launcher, f"{beside} would be taken for the club's", "rename it")
        return _of_the_club(launcher.profile, launcher, memo)
    named = _named(launcher, path)
    return named if isinstance(named, Diagnostic) else _Found(read_profile(named, memo), named.name)


def _of_the_club(name: str, launcher: LauncherDecl, memo: Memo) -> _Found | Diagnostic:
    """The profile that the club has approved last, verified."""
    try:
        lies, raw = club_profile(name)
    except club_library.LibraryError as why:
        return _not_there(
            launcher,
            f"{name}: {why}",
            "`feedscript club fetch` fetches what the club has approved since, if anything",
        )
    short = name.removeprefix(CLUB).removesuffix(PROFILE) + PROFILE
    pin = Pin(short, hashlib.sha256(raw).hexdigest())
    return _Found(profile_in(raw, str(lies), memo), CLUB + short, pin)


def _not_there(launcher: LauncherDecl, message: str, help: str) -> Diagnostic:
    return NO_SUCH_PROFILE.report(message, help=help, span=_span(launcher))


def _is_new(note: Diagnostic, diagnostics: list[Diagnostic]) -> bool:
    return all(one.slug != note.slug for one in diagnostics)


def _stands_in(launcher: LauncherDecl) -> Diagnostic:
    return EXAMPLE_PROFILE.report(
        f"no profile is named: the invented example {EXAMPLE} stands in",
        help=f'write `profile "{EXAMPLE}"` in launcher, or name your own',
        span=_span(launcher),
    )


def _span(launcher: LauncherDecl) -> Span | None:
    return launcher.spans.get("profile", launcher.span)


def _named(launcher: LauncherDecl, path: Path) -> Path | Diagnostic:
    shipped = shipped_profiles()
    if launcher.profile is None:
        return shipped[EXAMPLE]
    home = real_path(path).parent
    name = launcher.profile if launcher.profile.endswith(".toml") else f"{launcher.profile}.toml"
    for written in (launcher.profile, name):
        own = real_path(home / written)
        if own.is_relative_to(home) and is_plain(own):
            return own
    if name in shipped:
        if not os.path.lexists(home / name):
            return shipped[name]
        return _not_there(
            launcher,
            f"what is called {name!r} beside the program is no file that lies there",
            "put the profile itself there; no shipped one is taken in its place",
        )
    close = nearest(name, shipped)
    return _not_there(
        launcher,
        f"there is no profile {launcher.profile!r} beside the program, nor among the shipped",
        f"did you mean {close!r}?" if close else f"shipped: {', '.join(shipped)}",
    )
