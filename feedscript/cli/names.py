"""Arguments that are a file or a name, and the names that a shell completes there."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterable
from pathlib import Path

import click
from click.shell_completion import CompletionItem

from feedscript.club_library import CLUB, LibraryError
from feedscript.diagnostics import FeedscriptError
from feedscript.override import override
from feedscript.own_library import library_folder, own_programs, own_seasons
from feedscript.shipped import (
    club_profile,
    profile_path,
    shipped_mappings,
    shipped_profiles,
    shipped_programs,
    shipped_seasons,
)

#: What a shell understands as: complete the paths of files here.
_A_FILE = "file"


class Name(click.ParamType[str]):
    """A word as it is written, and where the names come from that it may be; ``or_file`` where a
    file may stand there too."""

    name = "text"

    def __init__(self, names: Callable[[], Iterable[str]], *, or_file: bool = True) -> None:
        self._names = names
        self._or_file = or_file

    @override
    def convert(self, value: str, param: click.Parameter | None, ctx: click.Context | None) -> str:
        return value

    @override
    def shell_complete(
        self, ctx: click.Context, param: click.Parameter, incomplete: str
    ) -> list[CompletionItem]:
        try:
            found = [one for one in self._names() if one.startswith(incomplete)]
        except (FeedscriptError, OSError):  # nobody is told anything while a word is typed
            found = []
        file = [CompletionItem(incomplete, _A_FILE)] if self._or_file else []
        return [*file, *map(CompletionItem, found)]


def _programs() -> list[str]:
    return [*shipped_programs(), *own_programs(library_folder(None))]


def _seasons() -> list[str]:
    return [*shipped_seasons(), *own_seasons(library_folder(None))]


def _profiles() -> list[str]:
    return [name.removesuffix(".toml") for name in shipped_profiles()]


PROGRAM = Name(_programs)
SEASON = Name(_seasons)
MAPPING = Name(shipped_mappings)
MAPPING_OFFERED = Name(shipped_mappings, or_file=False)
PROFILE = Name(_profiles, or_file=False)
OFFERED = Name(lambda: [*_programs(), *_seasons()], or_file=False)
PROGRAM_OR_SEASON = Name(lambda: [*_programs(), *_seasons()])


class ProfileFile(click.ParamType[Path]):
    """A profile: a file, the club's as ``club/NAME``, or a shipped one by its name."""

    name = "profile"

    @override
    def convert(self, value: str, param: click.Parameter | None, ctx: click.Context | None) -> Path:
        try:
            if value.startswith(CLUB) and not os.path.lexists(value):
                return club_profile(value)[0]
        except LibraryError as why:
            self.fail(f"{value}: {why}", param, ctx)
        return profile_path(value)

    @override
    def shell_complete(
        self, ctx: click.Context, param: click.Parameter, incomplete: str
    ) -> list[CompletionItem]:
        return Name(_profiles).shell_complete(ctx, param, incomplete)
