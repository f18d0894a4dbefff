"""What the exercises of the library say of themselves, as far as a first lesson asks."""

from __future__ import annotations

import re
from collections.abc import Iterator
from functools import cache

import msgspec

from feedscript.language.parse import tree as t
from feedscript.language.parse.source import Source
from feedscript.language.program import ExerciseStatement, SuitsDecl
from feedscript.language.syntax import parse
from feedscript.language.tools.library_page import exercises

_AT_BASELINE = re.compile(r"(?:[\d.]+ m behind )?(?:centre mark|baseline, on centre line)")


class Number(msgspec.Struct, frozen=True):
    """A number of balls or rounds that an exercise may be given, and what it is without."""

    name: str
    default: int


class Exercise(msgspec.Struct, frozen=True, kw_only=True):
    """One file of the library."""

    name: str
    said: ExerciseStatement
    suits: SuitsDecl
    numbers: tuple[Number, ...]  # its `turns` last
    shown: str  # the feed whose speed its own lesson watches
    ball: str | None  # the feed that may be given instead of another; the first parameter
    place: str  # where its receiver stands, where that is not at the baseline

    @property
    def counts(self) -> bool:
        """Whether it has a goal or a score."""
        return bool(self.said.goals) or self.said.score is not None


@cache
def library() -> tuple[Exercise, ...]:
    """Every exercise that can be used as it is, or with another feed, by name."""
    return tuple(_read())


def _read() -> Iterator[Exercise]:
    for one in exercises():
        text = one.path.read_text(encoding="utf-8")
        items = parse(Source(one.path.name, text)).tree.items
        pattern = next(each for each in items if isinstance(each, t.Pattern))
        place = _place(items, text)
        ball = next((str(each.name) for each in pattern.params if each.kind == "feed"), None)
        if place and ball is None:
            continue  # its receiver could not be put where the exercise wants them
        yield Exercise(
            name=one.path.stem,
            said=one.said,
            suits=one.suits,
            numbers=tuple(_numbers(pattern, text)),
            shown=_shown(items, text),
            ball=ball,
            place=place,
        )


def _numbers(pattern: t.Pattern, text: str) -> Iterator[Number]:
    found = [one for one in pattern.params if one.kind == "count"]
    for one in sorted(found, key=lambda one: one.name == "turns"):
        yield Number(str(one.name), int(text[one.default.start : one.default.end]))


def _shown(items: tuple[object, ...], text: str) -> str:
    lesson = next(one for one in items if isinstance(one, t.Lesson))
    show = next(one for one in lesson.body.steps if isinstance(one, t.ShowSyntax))
    return text[show.feed.start : show.feed.end]


def _place(items: tuple[object, ...], text: str) -> str:
    """Where the group stands in the exercise's own file, if a feed depends on it."""
    feeds = [one for one in items if isinstance(one, t.Feed) and one.base is None]
    if all(_receiver(one.properties, text) for one in feeds):
        return ""
    group = next(one for one in items if isinstance(one, t.Declaration) and one.word == "group")
    place = _receiver(group.properties, text)
    return "" if _AT_BASELINE.fullmatch(place) else place


def _receiver(properties: tuple[t.Property, ...], text: str) -> str:
    found = [one for one in properties if one.word == "receiver"]
    return " ".join(text[found[0].start : found[0].end].split()[1:]) if found else ""
