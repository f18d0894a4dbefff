"""Which of a season's lessons were held, with whom, and one player over them.

A lesson was held when the journal has a real one, begun on its day, of its program: by the title
that the program has, or by the name of its file. One of another program that was begun near its
hour is told as that.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from datetime import datetime
from enum import StrEnum
from pathlib import Path

import msgspec

from feedscript.check.season import SeasonVerdict
from feedscript.diagnostics import Diagnostic, FeedscriptError, Page
from feedscript.journal import queries
from feedscript.journal.redaction import name_key
from feedscript.journal.store import Journal, read_journal
from feedscript.journal.stored import SessionRow
from feedscript.language.program import PlannedLesson
from feedscript.review.record.history import History, history_of
from feedscript.review.report.lesson import Lesson, read_lesson
from feedscript.tongues.text import p_

#: As near to the hour that was planned as this, another program is in its place (design value).
NEAR_S = 2 * 3600.0

NOT_IN_SEASON = Page(
    slug="not-in-season",
    title="A player who was in no lesson of the season",
    why="""A player's record over a season is of those lessons that were planned and held, in which
a ball was fed to that player.""",
)


class Standing(StrEnum):
    """What became of a planned lesson."""

    HELD = "held"
    OTHER = "another program"
    MISSED = "not held"
    COMING = "to come"


#: The same in words.
STANDINGS: dict[Standing, str] = {
    Standing.HELD: p_("lesson", "held"),
    Standing.OTHER: p_("lesson", "another program"),
    Standing.MISSED: p_("lesson", "not held"),
    Standing.COMING: p_("lesson", "to come"),
}


class Planned(msgspec.Struct, frozen=True):
    """A planned lesson, and the lessons of the journals that were it, or were in its place."""

    lesson: PlannedLesson
    standing: Standing
    played: tuple[Lesson, ...] = ()


class SeasonHeld(msgspec.Struct, frozen=True):
    """Every planned lesson in its order; ``passed_over`` says which could not be read."""

    planned: tuple[Planned, ...]
    passed_over: tuple[Diagnostic, ...] = ()

    def count(self, standing: Standing) -> int:
        """How many planned lessons stand so."""
        return sum(one.standing is standing for one in self.planned)

    @property
    def begun_utc_s(self) -> frozenset[float]:
        """When the lessons that were held began."""
        held = (one for one in self.planned if one.standing is Standing.HELD)
        return frozenset(lesson.begun_utc_s for one in held for lesson in one.played)


def held_of(verdict: SeasonVerdict, paths: Iterable[Path], now: datetime) -> SeasonHeld:
    """What became of each lesson of a season, by these journals.

    Raises FeedscriptError when no journal can be read.
    """
    season = verdict.season
    assert season is not None
    passed_over: list[Diagnostic] = []
    found: dict[tuple[int, float], Lesson] = {}  # by token and beginning: a copy has the same
    paths = tuple(paths)
    for path in paths:
        try:
            found |= _read(path, verdict, passed_over)
        except FeedscriptError as trouble:
            if len(paths) == 1:
                raise
            passed_over.append(trouble.diagnostic)
    lessons = sorted(found.values(), key=lambda one: one.begun_utc_s)
    planned = tuple(_planned(verdict, one, lessons, now) for one in season.lessons)
    return SeasonHeld(planned, tuple(passed_over))


def _read(
    path: Path, verdict: SeasonVerdict, passed_over: list[Diagnostic]
) -> dict[tuple[int, float], Lesson]:
    """The real lessons of a journal that could be one of the season."""
    journal = read_journal(path)
    try:
        return dict(_candidates(journal, verdict, passed_over))
    finally:
        journal.close()


def _candidates(
    journal: Journal, verdict: SeasonVerdict, passed_over: list[Diagnostic]
) -> Iterator[tuple[tuple[int, float], Lesson]]:
    for number in queries.session_numbers(journal):
        try:
            head = queries.session_of(journal, number)
            if head is None or head.rehearsal or not _of_the_season(verdict, head):
                continue
            yield (head.token, head.begun_utc_s), read_lesson(journal, number)
        except FeedscriptError as trouble:
            passed_over.append(trouble.diagnostic)


def _of_the_season(verdict: SeasonVerdict, head: SessionRow) -> bool:
    season = verdict.season
    return season is not None and any(_on_its_day(one, head.begun_utc_s) for one in season.lessons)


def _on_its_day(planned: PlannedLesson, begun_utc_s: float) -> bool:
    """Whether a moment is on the day of a lesson, where the lesson is."""
    return datetime.fromtimestamp(begun_utc_s, planned.begins.tzinfo).date() == planned.day


def _planned(
    verdict: SeasonVerdict, planned: PlannedLesson, lessons: Sequence[Lesson], now: datetime
) -> Planned:
    that_day = [one for one in lessons if _on_its_day(planned, one.begun_utc_s)]
    held = tuple(one for one in that_day if _is_of(verdict, planned, one))
    if held:
        return Planned(planned, Standing.HELD, held)
    hour_utc_s = planned.begins.timestamp()
    near = tuple(one for one in that_day if abs(one.begun_utc_s - hour_utc_s) <= NEAR_S)
    if near:
        return Planned(planned, Standing.OTHER, near)
    return Planned(planned, Standing.MISSED if planned.begins < now else Standing.COMING)


def _is_of(verdict: SeasonVerdict, planned: PlannedLesson, lesson: Lesson) -> bool:
    program = verdict.programs[planned.program.source].program
    same_title = program is not None and name_key(program.title) == name_key(lesson.title)
    return same_title or Path(lesson.source).name == Path(planned.program.source).name


def history_over(held: SeasonHeld, paths: Sequence[Path], player: str) -> History:
    """One player's lessons of those that were held. Raises FeedscriptError when there is none."""
    whole = history_of(paths, player)
    lessons = tuple(one for one in whole.lessons if one.begun_utc_s in held.begun_utc_s)
    if not lessons or whole.rehearsal:
        message = f"{player!r} had no ball in any lesson of the season that was held"
        help_text = "`feedscript review --record --player NAME` goes over every lesson"
        raise FeedscriptError(NOT_IN_SEASON.report(message, help=help_text))
    return msgspec.structs.replace(whole, lessons=lessons, left_out=0)
