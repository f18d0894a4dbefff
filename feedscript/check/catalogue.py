"""Every program there is to choose from: those that come with feedscript and a coach's own."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from pathlib import Path

import msgspec

from feedscript.check.check_program import text_of_file
from feedscript.diagnostics import Diagnostic
from feedscript.language import Season, read
from feedscript.language.program import SuitsDecl
from feedscript.language.resolve.loading import load_beside
from feedscript.language.resolve.planning.heading import read_heading
from feedscript.language.resolve.program_pages import NO_LESSON
from feedscript.own_library import own_programs, own_seasons
from feedscript.shipped import shipped_folder, shipped_programs, shipped_seasons


class Entry(msgspec.Struct, frozen=True, kw_only=True):
    """One program: its name, and what it says of itself; or what is wrong with it."""

    name: str
    path: Path
    own: bool
    season: bool = False  # a season, which names programs
    title: str = ""
    suits: SuitsDecl = msgspec.field(default_factory=SuitsDecl)
    planned_s: float | None = None
    fault: Diagnostic | None = None  # the first error of one that cannot be used


class Wanted(msgspec.Struct, frozen=True, kw_only=True):
    """What is looked for: all of it at once."""

    themes: tuple[str, ...] = ()  # each somewhere in a theme, in capitals or without
    stage: str | None = None  # or level
    players: int | None = None
    needs: tuple[str, ...] = ()  # as themes
    nothing: bool = False  # only what needs nothing


def catalogue(library: Path) -> Iterator[Entry]:
    """Each program and season by name, the coach's own last. Nothing is aimed or judged."""
    shipped = shipped_programs() | shipped_seasons()
    own_ones = own_programs(library) | own_seasons(library)
    for own, files in ((False, shipped), (True, own_ones)):
        for name, path in files.items():
            yield entry_of(name, path, own, library)


def entry_of(name: str, path: Path, own: bool, library: Path) -> Entry:
    """What one program says of itself, by the name it goes by."""
    content = text_of_file(path)
    if isinstance(content, Diagnostic):
        return Entry(name=name, path=path, own=own, fault=content)
    load = load_beside(path, shipped_folder(), library)
    program, found = read(content, str(path), load=load)
    if program is None:
        errors = [one for one in found if one.is_error]
        if {one.slug for one in errors} != {NO_LESSON.slug}:
            return Entry(name=name, path=path, own=own, fault=errors[0])
    if isinstance(program, Season):
        themes = tuple(dict.fromkeys(lesson.theme for lesson in program.lessons))
        suits = SuitsDecl(themes=themes)
        return Entry(name=name, path=path, own=own, season=True, title=program.title, suits=suits)
    head = read_heading(content, str(path), load)
    planned_s = None if program is None else program.planned_s
    return Entry(name=name, path=path, own=own, planned_s=planned_s, **msgspec.structs.asdict(head))


def matching(entries: Iterable[Entry], wanted: Wanted) -> Iterator[Entry]:
    """Those that suit, and those with a fault, which nobody can tell of."""
    return (entry for entry in entries if entry.fault is not None or _suits(entry.suits, wanted))


def _suits(suits: SuitsDecl, wanted: Wanted) -> bool:
    """What a program does not say, it is not found by."""
    fits = suits.players
    return (
        all(_among(word, suits.themes) for word in wanted.themes)
        and all(_among(word, suits.needs) for word in wanted.needs)
        and (wanted.stage is None or wanted.stage in suits.stages)
        and (wanted.players is None or (fits is not None and fits[0] <= wanted.players <= fits[1]))
        and not (wanted.nothing and suits.needs)
    )


def _among(word: str, said: tuple[str, ...]) -> bool:
    return any(word.casefold() in one.casefold() for one in said)
