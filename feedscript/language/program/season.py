"""A season: lessons over weeks, each with its day, its hour and its program."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date, datetime, timedelta

import msgspec

from feedscript.diagnostics import Span


class ProgramUse(msgspec.Struct, frozen=True, gc=False):
    """A program that a season names: as written, and the file that is."""

    name: str
    source: str
    span: Span


class PlannedLesson(msgspec.Struct, frozen=True, kw_only=True):
    """One lesson of a season. ``begins`` carries its time zone."""

    number: int  # from 1, in the order of time
    week: int  # from 1, the week of the season's first day
    begins: datetime
    length_s: float | None  # None: as long as the program says
    theme: str
    program: ProgramUse
    aim: str = ""
    watch: str = ""

    @property
    def day(self) -> date:
        """The day on which it begins, where it is."""
        return self.begins.date()


class Season(msgspec.Struct, frozen=True, kw_only=True):
    """A whole season. ``sources`` has its text by its name; ``off`` the days that fall out."""

    title: str
    source: str
    sources: Mapping[str, str]
    first_day: date
    lessons: tuple[PlannedLesson, ...]
    off: tuple[date, ...]
    span: Span

    @property
    def programs(self) -> tuple[ProgramUse, ...]:
        """Each file once, in the order of first use."""
        found: dict[str, ProgramUse] = {}
        for lesson in self.lessons:
            found.setdefault(lesson.program.source, lesson.program)
        return tuple(found.values())


def week_of(first_day: date, day: date) -> int:
    """The season's week that a day is in: weeks begin on Mondays, the first day's is week 1."""
    monday = first_day - timedelta(days=first_day.weekday())
    return (day - monday).days // 7 + 1
