"""A journal's lessons as tables: lessons, balls, exercises, players, goals, and what films told.

A cell is a text, a number, a moment of UTC, yes or no, or None where nothing is known. What a
column means, and its unit, stands with it and goes into every file.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from datetime import UTC, datetime
from typing import Final, Literal, TypeAlias

import msgspec

from feedscript.review.report.figures import PlayerFigures
from feedscript.review.report.html import review_of
from feedscript.review.report.lesson import Ball, Lesson
from feedscript.visible import on_one_line

Cell: TypeAlias = str | int | float | bool | datetime | None
Row: TypeAlias = tuple[Cell, ...]
#: As Table Schema calls them (Frictionless Data, "Table Schema", version 2).
Kind: TypeAlias = Literal["string", "integer", "number", "boolean", "datetime"]


class Column(msgspec.Struct, frozen=True):
    """A column: its name, with the unit in it, what it holds, and what that means."""

    name: str
    kind: Kind
    says: str


class Table(msgspec.Struct, frozen=True, kw_only=True):
    """A table. ``key``: the columns by which each row is another; ``within``: the columns in which
    it names a row of another table, and which that is."""

    name: str
    says: str
    columns: tuple[Column, ...]
    key: tuple[str, ...]
    within: tuple[tuple[str, tuple[str, ...]], ...] = ()
    rows: tuple[Row, ...]


_LESSON: Final = Column("lesson", "integer", "the lesson's number in the journal")
_BALL: Final = Column("ball", "integer", "the ball's number in the lesson")
_PLAYER: Final = Column("player", "string", "by name; empty: nobody in particular")
_EXERCISE: Final = Column("exercise", "string", "by its title")


def tables_of(lessons: Sequence[Lesson]) -> tuple[Table, ...]:
    """Every table of these lessons."""
    return tuple(made(lessons) for made in _TABLES)


def _moment(utc_s: float | None) -> datetime | None:
    """To the millisecond."""
    return None if utc_s is None else datetime.fromtimestamp(round(utc_s, 3), UTC)


def _text(words: str | None) -> str | None:
    return on_one_line(words) if words else None


def _lessons(lessons: Iterable[Lesson]) -> Table:
    columns = (
        _LESSON,
        Column("title", "string", "of the program"),
        Column("rehearsal", "boolean", "on a simulated launcher"),
        Column("begun", "datetime", "when it began"),
        Column("ended", "datetime", "when it ended"),
        Column("ending", "string", "how it ended"),
        Column("balls", "integer", "that left"),
        Column("not_sent", "integer", "balls that did not"),
        Column("unknown", "integer", "balls of which nobody knows"),
    )
    rows = (
        (
            one.number,
            _text(one.title),
            one.rehearsal,
            _moment(one.begun_utc_s),
            _moment(one.ended_utc_s),
            _text(one.ending),
            len(one.balls),
            one.not_sent,
            one.unknown,
        )
        for one in lessons
    )
    says = "Each lesson."
    return Table(name="lessons", says=says, columns=columns, key=("lesson",), rows=tuple(rows))


def _balls(lessons: Iterable[Lesson]) -> Table:
    columns = (
        _LESSON,
        _BALL,
        Column("left", "datetime", "when it left the launcher"),
        Column("launcher", "integer", "which one, counted from 1"),
        Column("station", "string", "where there are several"),
        _EXERCISE,
        Column("target", "string", "what players aim at in it"),
        Column("kind", "string", "the feed as the program names it"),
        Column("feed", "string", "the variant of it that was sent"),
        _PLAYER,
        Column("hand", "string", "the player's: left or right"),
        Column("shown", "boolean", "watched from the side, with nobody in front"),
        Column("result", "string", "target, in, net, long, left or right; empty: not recorded"),
        Column("target_x_m", "number", "where the feed was to land, metres to the ad side"),
        Column("target_y_m", "number", "where the feed was to land, metres past the net"),
        Column("landing_x_m", "number", "where the player's shot came down, if marked"),
        Column("landing_y_m", "number", "where the player's shot came down, if marked"),
    )
    rows = (_ball_row(lesson, ball) for lesson in lessons for ball in lesson.balls)
    return Table(
        name="balls",
        says="Each ball that left.",
        columns=columns,
        key=("lesson", "ball"),
        within=(("lessons", ("lesson",)),),
        rows=tuple(rows),
    )


def _ball_row(lesson: Lesson, ball: Ball) -> Row:
    return (
        lesson.number,
        ball.number,
        _moment(ball.left_utc_s),
        ball.launcher,
        _text(ball.station),
        _text(ball.exercise),
        _text(ball.target),
        _text(ball.kind),
        _text(ball.feed),
        _text(ball.player),
        _text(lesson.hand_of(ball.player)),
        ball.shown,
        None if ball.result is None else ball.result.value,
        *(ball.target_m or (None, None)),
        *(ball.landing_m or (None, None)),
    )


def _exercises(lessons: Iterable[Lesson]) -> Table:
    columns = (
        _LESSON,
        Column("go", "integer", "which of the lesson's, counted from 1"),
        _EXERCISE,
        Column("begun", "datetime", "when it began"),
        Column("ended", "datetime", "when it ended"),
        Column("how", "string", "how it came to its end"),
    )
    rows = (
        (
            lesson.number,
            go,
            _text(one.title),
            _moment(one.begun_utc_s),
            _moment(one.ended_utc_s),
            None if one.how is None else one.how.value,
        )
        for lesson in lessons
        for go, one in enumerate(lesson.exercises, 1)
    )
    return Table(
        name="exercises",
        says="Each time that an exercise was on.",
        columns=columns,
        key=("lesson", "go"),
        within=(("lessons", ("lesson",)),),
        rows=tuple(rows),
    )


def _players(lessons: Iterable[Lesson]) -> Table:
    columns = (
        _LESSON,
        Column("place", "integer", "among those who had balls in the lesson, counted from 1"),
        _PLAYER,
        Column("balls", "integer", "that left for the player"),
        Column("recorded", "integer", "of which somebody said what became of them"),
        Column("in", "integer", "of those recorded, in court"),
        Column("share_in", "number", "of those recorded, 0 to 1"),
        Column("share_in_low", "number", "where the share's interval (95 %) begins"),
        Column("share_in_high", "number", "where it ends"),
        Column("target", "integer", "in the exercise's target, of those in court"),
        *(Column(error, "integer", words) for error, words in _ERRORS.items()),
        Column("errors_repeated", "integer", "by the next ball"),
        Column("here_s", "number", "seconds in the lesson"),
        Column("waited_s", "number", "seconds without a turn"),
    )
    rows = (
        (lesson.number, place, *_player_row(one))
        for lesson in lessons
        for place, one in enumerate(review_of(lesson, (), sheet=False).players, 1)
    )
    return Table(
        name="players",
        says="Each player of each lesson.",
        columns=columns,
        key=("lesson", "place"),
        within=(("lessons", ("lesson",)),),
        rows=tuple(rows),
    )


_ERRORS: Final[Mapping[str, str]] = {
    "net": "into the net",
    "long": "past the baseline",
    "left": "missed to the left",
    "right": "missed to the right",
}


def _player_row(one: PlayerFigures) -> Iterator[Cell]:
    whole, waiting = one.whole, one.waiting
    errors = {error.value: count for error, count in whole.errors.items()}
    yield _text(one.player)
    yield from (whole.balls, whole.share.recorded, whole.share.made, whole.share.value)
    yield from whole.share.interval or (None, None)
    yield whole.in_target
    yield from (errors.get(error, 0) for error in _ERRORS)
    yield whole.repeats
    yield from (None, None) if waiting is None else (waiting.here_s, waiting.waited_s)


def _goals(lessons: Iterable[Lesson]) -> Table:
    columns = (
        _LESSON,
        Column("number", "integer", "which of the lesson's, counted from 1"),
        _EXERCISE,
        Column("play", "integer", "which go at the exercise, counted from 1"),
        _PLAYER,
        Column("goal", "string", "in words"),
        Column("best", "integer", "the most that were made in the goal's balls"),
        Column("met_by", "integer", "the number of the ball with which it was met"),
        Column("longest_row", "integer", "the most in a row"),
    )
    rows = (
        (
            lesson.number,
            number,
            _text(one.exercise),
            one.play,
            _text(one.player),
            _text(str(one.goal)),
            one.best,
            one.met_by,
            one.longest_row,
        )
        for lesson in lessons
        for number, one in enumerate(lesson.aims.tried, 1)
    )
    return Table(
        name="goals",
        says="Each player's go at each goal.",
        columns=columns,
        key=("lesson", "number"),
        within=(("lessons", ("lesson",)),),
        rows=tuple(rows),
    )


def _landings(lessons: Iterable[Lesson]) -> Table:
    columns = (
        _LESSON,
        _BALL,
        Column("x_m", "number", "where the fed ball came down, metres to the ad side"),
        Column("y_m", "number", "where the fed ball came down, metres past the net"),
        Column("xx_m2", "number", "variance of that, of x, m²"),
        Column("xy_m2", "number", "covariance of x and y, m²"),
        Column("yy_m2", "number", "variance of y, m²"),
        Column("speed_mps", "number", "at the mouth, m/s"),
        Column("speed_sd_mps", "number", "one standard deviation of that"),
        Column("flight_s", "number", "from the mouth to the bounce, s"),
        Column("flight_sd_s", "number", "one standard deviation of that"),
        Column("why_not", "string", "why it is not known"),
        Column("refused", "boolean", "a person said that it is not this ball"),
        Column("shot", "string", "what the film takes the player's shot for"),
        Column("shot_sure", "number", "how likely that is, 0 to 1"),
        Column("shot_x_m", "number", "where the shot came down, metres to the ad side"),
        Column("shot_y_m", "number", "where the shot came down, metres past the net"),
    )
    rows = (
        _landing_row(lesson, ball)
        for lesson in lessons
        for ball in lesson.balls
        if ball.seen is not None or ball.shot is not None
    )
    return Table(
        name="landings",
        says="Each ball that was looked for in a film, and the player's shot.",
        columns=columns,
        key=("lesson", "ball"),
        within=(("balls", ("lesson", "ball")),),
        rows=tuple(rows),
    )


#: What the journal has of a landing, in the order of the columns.
_SEEN: Final = (
    "x_m",
    "y_m",
    "xx_m2",
    "xy_m2",
    "yy_m2",
    "speed_mps",
    "speed_sd_mps",
    "flight_s",
    "flight_sd_s",
)


def _landing_row(lesson: Lesson, ball: Ball) -> Row:
    seen, shot = ball.seen, ball.shot
    return (
        lesson.number,
        ball.number,
        *(None if seen is None else getattr(seen, name) for name in _SEEN),
        None if seen is None else _text(seen.why),
        seen is not None and bool(seen.refused),
        None if shot is None or shot.result is None else shot.result.value,
        *((None, None, None) if shot is None else (shot.sure, shot.x_m, shot.y_m)),
    )


_TABLES: Final[tuple[Callable[[Sequence[Lesson]], Table], ...]] = (
    _lessons,
    _balls,
    _exercises,
    _players,
    _goals,
    _landings,
)
