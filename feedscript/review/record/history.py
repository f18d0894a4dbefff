"""Every lesson in which one player played, out of all the journals of a coach.

A player is a name by the project's one rule (``redaction.name_key``), whatever the lesson was
called and however the name was written in it. What cannot be read is told and passed over.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from pathlib import Path

import msgspec

from feedscript.diagnostics import Diagnostic, FeedscriptError
from feedscript.journal.queries import everyone_on_turn
from feedscript.journal.redaction import Key, name_key, player_names
from feedscript.journal.store import Journal, read_journal
from feedscript.review.report.lesson import (
    NO_SUCH_PLAYER,
    Lesson,
    in_series,
    lesson_of_player,
    read_lesson,
)
from feedscript.visible import on_one_line


class History(msgspec.Struct, frozen=True, kw_only=True):
    """One player's lessons, oldest first, with no ball and no name of anybody else.

    They are real lessons; rehearsals only where the player was in nothing else (``rehearsal``).
    ``left_out`` counts rehearsals that were left out; ``copies`` counts lessons that stood in two
    journals; ``passed_over`` says what could not be read.
    """

    player: str
    lessons: tuple[Lesson, ...]
    rehearsal: bool = False
    left_out: int = 0
    copies: int = 0
    passed_over: tuple[Diagnostic, ...] = ()

    @property
    def language(self) -> str:
        """The one that the player speaks by the last program that says so; "" where none does."""
        said = (one for lesson in self.lessons[::-1] for one in lesson.languages.values())
        return next(said, "")


class _Found(msgspec.Struct):
    """What is gathered on the way through the journals."""

    key: Key
    lessons: dict[tuple[int, float], Lesson] = {}  # by token and beginning: a copy has the same
    names: set[str] = set()
    copies: int = 0
    passed_over: list[Diagnostic] = []

    def add(self, token: int, lesson: Lesson) -> None:
        """The fuller of two copies stays: a backup may have been made before the end."""
        at = (token, lesson.begun_utc_s)
        before = self.lessons.get(at)
        self.copies += before is not None
        if before is None or _fullness(lesson) > _fullness(before):
            self.lessons[at] = lesson


def _fullness(lesson: Lesson) -> tuple[int, int]:
    return len(lesson.balls), sum(ball.result is not None for ball in lesson.balls)


def history_of(paths: Iterable[Path], player: str, since_utc_s: float | None = None) -> History:
    """The lessons of a player in these journals, from a moment on if one is given.

    Raises FeedscriptError when no journal can be read, or the player had no ball in any.
    """
    found = _Found(key=name_key(player))
    paths = tuple(paths)
    refused = 0
    for path in paths:
        try:
            _read(path, found, since_utc_s)
        except FeedscriptError as trouble:
            refused += 1
            found.passed_over.append(trouble.diagnostic)
    if refused == len(paths) and found.passed_over:
        raise FeedscriptError(found.passed_over[0])
    return _history(found, player, paths)


def history_in(journal: Journal, player: str, passed_over: Iterable[Diagnostic] = ()) -> History:
    """The same of one open journal; with what was passed over before.

    Raises FeedscriptError when the player had no ball in it.
    """
    found = _Found(key=name_key(player), passed_over=list(passed_over))
    _add(journal, found, None)
    return _history(found, player, (Path(journal.path),))


def _read(path: Path, found: _Found, since_utc_s: float | None) -> None:
    journal = read_journal(path)
    try:
        _add(journal, found, since_utc_s)
    finally:
        journal.close()


def _add(journal: Journal, found: _Found, since_utc_s: float | None) -> None:
    found.names |= player_names(journal.rows)
    for number, token in _with_the_player(journal, found.key, since_utc_s):
        try:
            found.add(token, read_lesson(journal, number))
        except FeedscriptError as trouble:
            found.passed_over.append(trouble.diagnostic)


def _with_the_player(
    journal: Journal, key: Key, since_utc_s: float | None
) -> Iterator[tuple[int, int]]:
    """Number and token of each lesson in which a ball was fed to the player, once each."""
    everyone = everyone_on_turn(journal, since_utc_s)
    theirs = {one.session_id: one.token for one in everyone if name_key(one.player) == key}
    yield from sorted(theirs.items())


def _history(found: _Found, asked: str, paths: Sequence[Path]) -> History:
    lessons = sorted(found.lessons.values(), key=lambda lesson: lesson.begun_utc_s)
    if not lessons:
        raise FeedscriptError(_nobody(found, asked, paths))
    real = [lesson for lesson in lessons if not lesson.rehearsal]
    chosen = real or lessons
    player = next(name for name in chosen[-1].players if name_key(name) == found.key)
    others = {name for name in map(on_one_line, found.names) if name_key(name) != found.key}
    in_one_name = (_in_one_name(lesson, player, found.key) for lesson in chosen)
    return History(
        player=player,
        lessons=tuple(lesson_of_player(lesson, player, others) for lesson in in_one_name),
        rehearsal=not real,
        left_out=len(lessons) - len(chosen),
        copies=found.copies,
        passed_over=tuple(found.passed_over),
    )


def _in_one_name(lesson: Lesson, player: str, key: Key) -> Lesson:
    """The lesson with the player's name written as it was last written."""
    one_name = (
        msgspec.structs.replace(ball, player=player)
        if ball.player and name_key(ball.player) == key
        else ball
        for ball in lesson.balls
    )
    climbs = (
        msgspec.structs.replace(one, player=player) if name_key(one.player) == key else one
        for one in lesson.climbs
    )
    languages = {
        player if name_key(who) == key else who: one for who, one in lesson.languages.items()
    }
    return msgspec.structs.replace(
        lesson, balls=in_series(one_name), climbs=tuple(climbs), languages=languages
    )


def _nobody(found: _Found, asked: str, paths: Sequence[Path]) -> Diagnostic:
    names = ", ".join(sorted(map(on_one_line, found.names)))
    where = str(paths[0]) if len(paths) == 1 else f"{len(paths)} journals"
    unread = "".join(f"; not read: {one.message}" for one in found.passed_over)
    return NO_SUCH_PLAYER.report(
        f"{asked!r} had no ball in any lesson of {where}{unread}",
        help=f"players in them: {names or 'nobody by name'}",
    )
