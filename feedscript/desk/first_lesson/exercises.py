"""What exercises say of themselves, as far as a first lesson asks."""

from __future__ import annotations

import re
from collections.abc import Iterator
from functools import cache
from pathlib import Path

import msgspec

from feedscript.language.parse import tree as t
from feedscript.language.parse.source import Source
from feedscript.language.program import ExerciseStatement, Program, SuitsDecl
from feedscript.language.resolve.loading import MOST_BYTES, load_beside
from feedscript.language.resolve.read_program import read_program
from feedscript.language.syntax import parse
from feedscript.language.tools.library_page import exercises
from feedscript.memo import Memo
from feedscript.own_library import library_folder, own_programs
from feedscript.plain_file import read_plain
from feedscript.shipped import shipped_folder
from feedscript.units import Dimension, UnitError, parse_quantity

_AT_BASELINE = re.compile(r"(?:[\d.]+ m behind )?(?:centre mark|baseline, on centre line)")


class Number(msgspec.Struct, frozen=True):
    """A number of balls or rounds that an exercise may be given, and what it is without."""

    name: str
    default: int


class Exercise(msgspec.Struct, frozen=True, kw_only=True):
    """One file of a library."""

    name: str
    file: str  # as `use` names it
    said: ExerciseStatement
    suits: SuitsDecl
    numbers: tuple[Number, ...]  # its `turns` last
    shown: str  # the feed whose speed its own lesson watches
    ball: str | None  # the feed that may be given instead of another; the first parameter
    place: str  # where its receiver stands, where that is not at the baseline
    speed_mps: float | None  # of the feed shown; None where it has none of its own
    gap_s: float | None  # from ball to ball, where another may be given

    @property
    def counts(self) -> bool:
        """Whether it has a goal or a score."""
        return bool(self.said.goals) or self.said.score is not None


def library() -> tuple[Exercise, ...]:
    """Every exercise that can be used as it is, or with another feed, by name.

    The coach's own come after those that come with feedscript, and take the place of one that is
    called the same.
    """
    own = tuple(_own())
    taken = {one.name for one in own}
    return (*(one for one in _shipped() if one.name not in taken), *own)


@cache
def _shipped() -> tuple[Exercise, ...]:
    return tuple(
        found
        for one in exercises()
        for text in (one.path.read_text(encoding="utf-8"),)
        for found in (_exercise(one.path, text, f"library/{one.path.name}", one.said, one.suits),)
        if found is not None
    )


def _own() -> Iterator[Exercise]:
    """Those of the coach's own programs that are written as the library's are."""
    folder = library_folder()
    for name, path in own_programs(folder).items():
        load = load_beside(path, shipped_folder(), folder)
        try:
            raw = read_plain(path, MOST_BYTES)
            text = raw.decode("utf-8") if len(raw) <= MOST_BYTES else ""
        except (OSError, UnicodeError):
            continue
        program, _ = read_program(text, str(path), load, Memo())
        if not isinstance(program, Program) or program.suits is None:
            continue
        said = next((one for one in program.lesson if isinstance(one, ExerciseStatement)), None)
        found = _exercise(path, text, name, said, program.suits) if said is not None else None
        if found is not None:
            yield found


def _exercise(
    path: Path, text: str, file: str, said: ExerciseStatement, suits: SuitsDecl
) -> Exercise | None:
    """None where it cannot be called with nothing but its own numbers and a feed."""
    items = parse(Source(path.name, text)).tree.items
    patterns = (one for one in items if isinstance(one, t.Pattern) and one.name == path.stem)
    pattern = next(patterns, None)
    if pattern is None or not _can_be_called(pattern, text):
        return None
    place, shown = _place(items, text), _shown(items, text)
    ball = next((str(each.name) for each in pattern.params if each.kind == "feed"), None)
    if shown is None or (place and ball is None):
        return None  # its receiver could not be put where the exercise wants them
    return Exercise(
        name=path.stem,
        file=file,
        said=said,
        suits=suits,
        numbers=tuple(_numbers(pattern, text)),
        shown=shown,
        ball=ball,
        place=place,
        speed_mps=_speed_mps(items, text, shown),
        gap_s=_gap_s(pattern, text),
    )


def _can_be_called(pattern: t.Pattern, text: str) -> bool:
    """Whether it takes its minutes and a number, and nothing must be given."""
    kinds = {str(one.name): str(one.kind) for one in pattern.params}
    if kinds.get("minutes") != "time" or "count" not in kinds.values():
        return False
    return all(
        one.default is not None
        and (one.kind != "count" or text[one.default.start : one.default.end].isdecimal())
        for one in pattern.params
    )


def _numbers(pattern: t.Pattern, text: str) -> Iterator[Number]:
    found = [one for one in pattern.params if one.kind == "count"]
    for one in sorted(found, key=lambda one: one.name == "turns"):
        yield Number(str(one.name), int(text[one.default.start : one.default.end]))


def _gap_s(pattern: t.Pattern, text: str) -> float | None:
    gaps = (one for one in pattern.params if (str(one.name), str(one.kind)) == ("gap", "time"))
    try:
        return next(
            (
                parse_quantity(text[one.default.start : one.default.end], Dimension.TIME)
                for one in gaps
                if one.default is not None
            ),
            None,
        )
    except UnitError:  # a name
        return None


def _shown(items: tuple[object, ...], text: str) -> str | None:
    """The feed whose speed its own lesson watches first."""
    lessons = (one for one in items if isinstance(one, t.Lesson))
    steps = (step for lesson in lessons for step in lesson.body.steps)
    show = next((one for one in steps if isinstance(one, t.ShowSyntax)), None)
    return None if show is None else text[show.feed.start : show.feed.end]


def _speed_mps(items: tuple[object, ...], text: str, feed: str | None) -> float | None:
    own = (one.properties for one in items if isinstance(one, t.Feed) and str(one.name) == feed)
    said = (text[one.start : one.end] for each in own for one in each if one.word == "speed")
    try:
        return next(
            (parse_quantity(one.removeprefix("speed"), Dimension.SPEED) for one in said), None
        )
    except UnitError:  # a name, or two speeds
        return None


def _place(items: tuple[object, ...], text: str) -> str:
    """Where the group stands in the exercise's own file, if a feed depends on it."""
    feeds = [one for one in items if isinstance(one, t.Feed) and one.base is None]
    if all(_receiver(one.properties, text) for one in feeds):
        return ""
    groups = (one for one in items if isinstance(one, t.Declaration) and one.word == "group")
    place = next((_receiver(group.properties, text) for group in groups), "")
    return "" if _AT_BASELINE.fullmatch(place) else place


def _receiver(properties: tuple[t.Property, ...], text: str) -> str:
    found = [one for one in properties if one.word == "receiver"]
    return " ".join(text[found[0].start : found[0].end].split()[1:]) if found else ""
