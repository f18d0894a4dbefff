"""A lesson as the journal remembers it: who was fed what, when, and what became of it."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from functools import cache
from itertools import groupby
from typing import Any

import msgspec

from feedscript.court.lines import COURTS, Court
from feedscript.diagnostics import FeedscriptError, Page
from feedscript.journal import queries
from feedscript.journal.films import LandingSeen, ShotSeen, landings_seen, shots_seen
from feedscript.journal.redaction import name_key, without_names
from feedscript.journal.store import Journal
from feedscript.journal.stored import BallRow, ResultRow, SessionRow, unbelievable
from feedscript.launcher.port import Outcome
from feedscript.plan.model import Result
from feedscript.review.report.attendance import (
    PlannedGroup,
    group_changes,
    left_handed,
    waits_of,
)
from feedscript.review.report.exercises import Exercise, Exercises, exercises_of, targets_of
from feedscript.review.report.goals import Aimed, Aims, aims_of
from feedscript.review.report.rungs import Climb, PlannedProgression, climbs_of
from feedscript.review.report.waiting import SERIES_PAUSE_S, LeftAt, Waiting
from feedscript.visible import on_one_line

NO_SUCH_LESSON = Page(
    slug="no-such-lesson",
    title="The journal holds no such lesson",
    why="A report is made from one lesson in the journal; each has a number, counted from 1.",
)

NO_SUCH_PLAYER = Page(
    slug="no-such-player",
    title="Nobody of this name was on turn in the lesson",
    why="A page to hand out shows one player's balls alone; the name is the one in the records.",
)

#: The kind of journal entry written when the sync tone is played.
SYNC_TONE = "sync-tone"

#: The errors in the order in which they lie on court, from the net outwards.
ERRORS = (Result.NET, Result.LEFT, Result.RIGHT, Result.LONG)

#: What stands for the name of somebody else on a sheet to hand out.
OTHER = "another player"


class Ball(msgspec.Struct, frozen=True):
    """One ball that left the launcher; ``left_utc_s`` in seconds of UTC since 1970.

    ``number`` is the one that every screen showed: its alone in the whole lesson, of all launchers.
    ``landing_m`` is where the player's shot came down, in court axes, if somebody marked it.
    ``series`` numbers the lesson's series; ``shown`` is a ball watched with nobody in front.
    """

    number: int
    feed: str
    player: str | None
    left_utc_s: float
    result: Result | None
    station: str = ""
    shown: bool = False
    landing_m: tuple[float, float] | None = None
    series: int = 0
    launcher: int = 1  # counted from 1, as on every screen
    kind: str = ""  # the feed as the program names it: the same for every variant that is drawn
    target_m: tuple[float, float] | None = None  # where the feed was to land, in court axes
    exercise: str = ""  # that it was part of, by its title; NOT_RECORDED where nobody can tell
    target: str = ""  # what players aim at in it, by its name
    seen: LandingSeen | None = None  # where a film saw it land, where one was looked over
    shot: ShotSeen | None = None  # what a film suggests of the player's shot


class Lesson(msgspec.Struct, frozen=True):
    """One lesson, whole. ``balls`` holds only those that left, in the order they left."""

    number: int
    title: str
    source: str
    rehearsal: bool
    begun_utc_s: float
    ended_utc_s: float | None
    ending: str | None
    seed: int | None
    court: Court
    balls: tuple[Ball, ...]
    not_sent: int
    unknown: int
    left_handed: frozenset[str] = frozenset()
    languages: dict[str, str] = {}  # of each player of whom the program says one
    waits: dict[str, Waiting] = {}  # of each player who had a turn
    exercises: tuple[Exercise, ...] = ()  # in the order in which they were on
    climbs: tuple[Climb, ...] = ()  # of each player in each progression
    aims: Aims = Aims()  # goals and games

    @property
    def played(self) -> tuple[Ball, ...]:
        """The balls that were fed to somebody."""
        return tuple(ball for ball in self.balls if not ball.shown)

    @property
    def players(self) -> tuple[str, ...]:
        """Everyone who was on turn, in the order of their first ball."""
        return _on_turn(self.balls)

    def hand_of(self, player: str | None) -> str:
        """The hand that the player plays with; nothing for nobody in particular."""
        if player is None:
            return ""
        return "left" if player in self.left_handed else "right"

    def of(self, player: str | None) -> tuple[Ball, ...]:
        """The balls fed to one player."""
        return tuple(ball for ball in self.played if ball.player == player)


def in_series(balls: Iterable[Ball]) -> tuple[Ball, ...]:
    """The same balls, each with the number of its series.

    A series is one player's balls without a long pause and with nobody else's at that station in
    between. A shown ball is a series of its own.
    """
    numbered: list[Ball] = []
    last_of: dict[str | None, Ball] = {}
    last_at: dict[str, Ball] = {}
    count = 0
    for ball in balls:
        before = last_of.get(ball.player)
        follows = (
            before is not None
            and last_at.get(ball.station) is before
            and not (ball.shown or before.shown)
            and ball.left_utc_s - before.left_utc_s <= SERIES_PAUSE_S
        )
        if before is not None and follows:
            series = before.series
        else:
            count += 1
            series = count
        now = msgspec.structs.replace(ball, series=series)
        last_of[ball.player] = last_at[ball.station] = now
        numbered.append(now)
    return tuple(numbered)


def series_of(balls: Iterable[Ball]) -> tuple[tuple[Ball, ...], ...]:
    """Cut into series, in the order of their first balls."""
    ordered = sorted(balls, key=lambda ball: ball.series)
    return tuple(tuple(run) for _, run in groupby(ordered, key=lambda ball: ball.series))


def lesson_of_player(lesson: Lesson, player: str, names: Iterable[str]) -> Lesson:
    """The lesson as one player may take it home: no ball and no name of anybody else.

    ``names`` are all that the journal knows. Raises FeedscriptError when that player had no ball.
    """
    player = _as_written(player, lesson.players)
    if player not in lesson.players:
        raise _no_such_player(player, "this lesson", lesson.players)
    others = {*map(on_one_line, names), *lesson.players} - {player}
    alone = cache(without_names(others, OTHER, known=[player]))
    balls = tuple(
        msgspec.structs.replace(
            b,
            feed=alone(b.feed),
            kind=alone(b.kind),
            station="",
            exercise=alone(b.exercise),
            target=alone(b.target),
        )
        for b in lesson.of(player)
    )
    return msgspec.structs.replace(
        lesson,
        title=alone(lesson.title),
        source="",
        balls=balls,
        not_sent=0,
        unknown=0,
        left_handed=lesson.left_handed & {player},
        languages={who: one for who, one in lesson.languages.items() if who == player},
        waits={who: waited for who, waited in lesson.waits.items() if who == player},
        exercises=(),
        aims=lesson.aims.of(player),
        climbs=tuple(_alone(one, alone) for one in lesson.climbs if one.player == player),
    )


def _alone(climb: Climb, alone: Callable[[str], str]) -> Climb:
    """A player's way without anybody else's name, which a feed may have."""
    return Climb(
        climb.player,
        alone(climb.progression),
        alone(climb.first),
        alone(climb.last),
        tuple(map(alone, climb.rungs)),
    )


def lessons_of_player(lessons: Iterable[Lesson], player: str, names: Iterable[str]) -> list[Lesson]:
    """All that is kept of one player, lesson by lesson, with nobody else's name.

    Raises FeedscriptError when that player is in none of them.
    """
    lessons, names = list(lessons), set(names)
    player = _as_written(player, names)
    theirs = [lesson_of_player(one, player, names) for one in lessons if player in one.players]
    if not theirs:
        raise _no_such_player(player, "any lesson", sorted(names))
    return theirs


def _as_written(player: str, names: Iterable[str]) -> str:
    """The name as the journal has it, however it was typed."""
    return next((name for name in names if name_key(name) == name_key(player)), player)


def _no_such_player(player: str, where: str, names: Sequence[str]) -> FeedscriptError:
    return FeedscriptError(
        NO_SUCH_PLAYER.report(
            f"{player!r} had no ball in {where}",
            help=f"on turn were: {', '.join(names) or 'nobody by name'}",
        )
    )


def read_lesson(journal: Journal, number: int | None = None) -> Lesson:
    """One lesson by its number, the latest when none is given.

    Raises FeedscriptError when the journal holds none, or none of that number, or is damaged.
    """
    numbers = queries.session_numbers(journal)
    if not numbers or (number is not None and number not in numbers):
        raise _no_such(journal, number, numbers)
    chosen = numbers[-1] if number is None else number
    head = queries.session_of(journal, chosen)
    if head is None:
        raise _no_such(journal, number, numbers)
    return _lesson(journal, head)


def _lesson(journal: Journal, head: SessionRow) -> Lesson:
    number = head.id
    plan = _plan_head(head.plan)
    became = queries.count_outcomes(journal, number)
    exercises = exercises_of(journal, head, plan.steps)
    balls = _balls(journal, number, plan, exercises)
    changes = group_changes(journal, number)
    left = [LeftAt(ball.left_utc_s, ball.station, ball.player) for ball in balls if not ball.shown]
    return Lesson(
        number=number,
        title=on_one_line(head.title),
        source=on_one_line(head.source),
        rehearsal=bool(head.rehearsal),
        begun_utc_s=head.begun_utc_s,
        ended_utc_s=head.ended_utc_s,
        ending=head.ending,
        seed=plan.seed,
        court=COURTS.get(plan.court.kind, COURTS["singles"]),
        balls=balls,
        not_sent=became[Outcome.NOT_SENT],
        unknown=became[Outcome.UNKNOWN],
        left_handed=left_handed(plan.group, changes),
        languages=plan.group.languages,
        waits=waits_of(journal, number, left, plan.group, changes),
        exercises=tuple(exercises.on),
        aims=_aims(plan, balls, exercises),
        climbs=climbs_of(journal, number, plan.progressions, _on_turn(balls)),
    )


def _aims(plan: _PlanHead, balls: Sequence[Ball], exercises: Exercises) -> Aims:
    """Those who came late follow the group's players, in the order of their first ball."""
    counted = [
        Aimed(
            number=ball.number,
            player=ball.player,
            result=ball.result,
            series=ball.series,
            go=exercises.goes.get(ball.number, (0, 0)),
        )
        for ball in balls
        if not ball.shown
    ]
    names = (*(on_one_line(one.name) for one in plan.group.players), *_on_turn(balls))
    return aims_of(plan.steps or (), counted, tuple(dict.fromkeys(names)))


def _on_turn(balls: Iterable[Ball]) -> tuple[str, ...]:
    return tuple(dict.fromkeys(ball.player for ball in balls if ball.player))


def _no_such(journal: Journal, number: int | None, numbers: tuple[int, ...]) -> FeedscriptError:
    return FeedscriptError(
        NO_SUCH_LESSON.report(
            "the journal is empty" if not numbers else f"there is no lesson {number}",
            device=journal.path,
            help=(
                "run a lesson first, or name another file with --journal"
                if not numbers
                else f"lessons in this journal: {', '.join(map(str, numbers))}"
            ),
        )
    )


class _CourtKind(msgspec.Struct, frozen=True):
    kind: str = ""


class _Feed(msgspec.Struct, frozen=True):
    name: str = ""
    wish: str = ""
    launcher: int = 0
    landing_m: tuple[float, float] | None = None


class _PlannedLauncher(msgspec.Struct, frozen=True):
    sweep_deg: tuple[float, float] | None = None


class _PlanHead(msgspec.Struct, frozen=True):
    seed: int | None = None
    court: _CourtKind = _CourtKind()
    group: PlannedGroup = PlannedGroup()
    feeds: tuple[_Feed, ...] = ()
    launchers: tuple[_PlannedLauncher, ...] = ()
    steps: list[Any] | None = None  # None where there is no plan that can be read
    progressions: tuple[PlannedProgression, ...] = ()


def _plan_head(plan: bytes) -> _PlanHead:
    """What a report needs of the plan; a plan of another version may lack it."""
    try:
        return msgspec.json.decode(plan, type=_PlanHead)
    except (msgspec.DecodeError, UnicodeDecodeError):
        return _PlanHead()


def _balls(
    journal: Journal, number: int, plan: _PlanHead, exercises: Exercises
) -> tuple[Ball, ...]:
    """Those that left, each with its latest record that was not taken back."""
    made = {result.feed_id: result for result in queries.standing_results(journal, number)}
    seen, shots = landings_seen(journal, number), shots_seen(journal, number)
    targets = targets_of(plan.steps or ())
    balls = []
    for row in queries.balls_that_left(journal, number):
        if row.left_utc_s is None:
            what = f"ball {row.feed_id} left, and nobody knows when"
            raise unbelievable(journal.path, number, what)
        exercise = exercises.of_ball.get(row.feed_id, "")
        of_it = exercise, targets.get(exercise, "")
        feed = _planned(row, plan)
        ball = _ball(row, row.left_utc_s, made.get(row.feed_id), feed, of_it)
        films = {"seen": seen.get(row.feed_id), "shot": shots.get(row.feed_id)}
        balls.append(msgspec.structs.replace(ball, **films))
    return in_series(balls)


def _ball(
    row: BallRow, left_utc_s: float, made: ResultRow | None, feed: _Feed, of_it: tuple[str, str]
) -> Ball:
    """``of_it``: the ball's exercise, and what players aim at there."""
    return Ball(
        number=row.feed_id,
        feed=on_one_line(row.feed),
        player=None if row.player is None else on_one_line(row.player),
        left_utc_s=left_utc_s,
        result=None if made is None else made.result,
        station=on_one_line(row.station),
        shown=bool(row.shown),
        landing_m=None if made is None else made.landing_m,
        launcher=row.launcher + 1,
        kind=on_one_line(feed.wish or row.feed),
        target_m=feed.landing_m,
        exercise=of_it[0],
        target=of_it[1],
    )


def _planned(row: BallRow, plan: _PlanHead) -> _Feed:
    """The feed in the plan; an empty one where the plan cannot be read or has none of this name.

    One over a sweep has no place where it was to land.
    """
    at = row.feed_index
    named = at < len(plan.feeds) and plan.feeds[at].name == row.feed
    feed = plan.feeds[at] if named else _Feed()
    swept = feed.launcher < len(plan.launchers) and plan.launchers[feed.launcher].sweep_deg
    return msgspec.structs.replace(feed, landing_m=None) if swept else feed


#: So many earlier lessons of a player are shown beside this one, at most.
WEEKS_SHOWN = 8


def earlier_lessons(journal: Journal, lesson: Lesson) -> tuple[Lesson, ...]:
    """Earlier lessons of the same title or program that were as real, oldest first.

    For everyone who was on turn in this one the latest, however many others had one since.
    """
    numbers = {
        number
        for player in dict.fromkeys(ball.player for ball in lesson.played)
        for number in queries.earlier_sessions(
            journal,
            player,
            title=lesson.title,
            source=lesson.source,
            rehearsal=lesson.rehearsal,
            begun_utc_s=lesson.begun_utc_s,
            most=WEEKS_SHOWN,
        )
    }
    lessons = [read_lesson(journal, number) for number in sorted(numbers)]
    return tuple(sorted(lessons, key=lambda earlier: earlier.begun_utc_s))


def sync_tones_utc_s(journal: Journal, lesson: Lesson) -> tuple[float, ...]:
    """When the sync tone was played in this lesson, each time, in order."""
    return tuple(sorted(row.utc_s for row in queries.entries_of(journal, lesson.number, SYNC_TONE)))
