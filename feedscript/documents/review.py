"""Documents of what lessons came to: a lesson's review, one player over all lessons, every ball."""

from __future__ import annotations

import msgspec
from msgspec import UNSET, UnsetType

from feedscript.documents.common import Diagnostics, Moment, Pair, ShareIn
from feedscript.journal.films import LandingSeen, ShotSeen
from feedscript.plan.model import Result
from feedscript.review.report.film.landed import Landed
from feedscript.review.report.film.shots import Difference, Suggestions
from feedscript.review.report.goals import Game, Tried


class PlayedExercise(msgspec.Struct, frozen=True, kw_only=True):
    """One time that an exercise was on."""

    title: str
    begun: Moment
    ended: Moment | None
    how: str | None  # how it came to its end; null: nobody wrote it down


class PlayedProgression(msgspec.Struct, frozen=True, kw_only=True):
    """A player's way in a progression."""

    player: str
    name: str  # of the progression
    began: str  # the feed on which the player began
    ended: str  # the feed on which the player ended


class LessonHead(msgspec.Struct, frozen=True, kw_only=True):
    """What a lesson is."""

    lesson: int
    title: str
    rehearsal: bool
    begun: Moment
    ended: Moment | None
    ending: str | None  # null: it was not ended
    seed: int | None  # of what the program leaves to chance
    balls: int  # that left
    not_sent: int
    unknown: int  # of which nobody knows
    exercises: tuple[PlayedExercise, ...]
    goals: tuple[Tried, ...]
    games: tuple[Game, ...]
    progressions: tuple[PlayedProgression, ...]


class KeptClip(msgspec.Struct, frozen=True, kw_only=True):
    """A picture of a ball, beside the journal."""

    ball: int
    file: str
    made: Moment  # when, ISO 8601 with its offset


class ByFilm(msgspec.Struct, frozen=True, kw_only=True):
    """All that films told of a ball."""

    feed: LandingSeen | None  # where it came down
    shot: ShotSeen | None  # the player's shot


class KeptBall(msgspec.Struct, frozen=True, kw_only=True):
    """A ball that left."""

    ball: int
    left: Moment  # when, ISO 8601 with its offset
    launcher: int
    station: str  # empty outside of stations
    exercise: str
    target: str | None  # what players aim at in it
    kind: str  # the feed as the program names it
    feed: str  # the variant that was sent
    player: str | None  # null: nobody in particular
    hand: str | None  # the player's; null where it is not known
    shown: bool  # watched from the side, with nobody in front
    result: Result | None  # null: nobody recorded it
    target_m: Pair | None  # where the feed was to land
    landing_m: Pair | None  # where the player's shot came down, if somebody marked it
    by_film: ByFilm | None


class KeptLesson(LessonHead, frozen=True, kw_only=True):
    """One lesson with every ball."""

    clips: tuple[KeptClip, ...]
    every_ball: tuple[KeptBall, ...]


class Lessons(msgspec.Struct, frozen=True, kw_only=True):
    """What `feedscript journal export -o FILE.json` writes: whole lessons with every ball."""

    lessons: tuple[KeptLesson, ...]


class PlayedTrend(msgspec.Struct, frozen=True, kw_only=True):
    """Where the share in court went through the lesson."""

    parts: tuple[float | None, ...]  # the share in each part of the lesson
    direction: str
    line: Pair | None  # of the share, at its two ends
    p: float | None  # how likely chance alone gives one as steep


class PlayedFigures(ShareIn, frozen=True, kw_only=True):
    """The figures of some balls."""

    balls: int
    target: int  # in the exercise's target, of those in court
    net: int
    long: int
    left: int
    right: int
    errors_repeated: int  # by the next ball
    errors_that_could_repeat: int  # errors whose next ball in the series was recorded
    repeated_error_rate: float | None
    trend: PlayedTrend
    landings: tuple[tuple[float, float, Result], ...]  # x and y in metres, and the result
    suggestion: str  # for next time


class ShareChange(msgspec.Struct, frozen=True, kw_only=True):
    """The share in court now less that of last time."""

    points: float
    interval: Pair  # 95 %
    clear: bool  # none at all is outside of it


class LessonBefore(ShareIn, frozen=True, kw_only=True):
    """A lesson before this one."""

    begun: Moment


class Waited(msgspec.Struct, frozen=True, kw_only=True):
    """How long somebody had no turn."""

    here_s: float  # in the lesson
    waited_s: float
    minutes_an_hour: float | None  # of waiting


class WaitedBoth(Waited, frozen=True, kw_only=True):
    """How long a player had no turn, and how long it were without stations."""

    without_stations: Waited


class ReviewedPlayer(PlayedFigures, frozen=True, kw_only=True):
    """One player's lesson."""

    player: str | None  # null: nobody in particular
    share_in_before: float | None
    change: ShareChange | None
    lessons_before: tuple[LessonBefore, ...]
    waiting: WaitedBoth | None
    feeds: dict[str, PlayedFigures]  # by the feed's name


class Review(LessonHead, frozen=True, kw_only=True):
    """`feedscript review`: what a lesson came to. What films told is left out of a player's own."""

    players: tuple[ReviewedPlayer, ...]
    feeds: dict[str, PlayedFigures]  # by the feed's name
    feeds_by_film: tuple[Landed, ...] | UnsetType = UNSET
    shots_by_film: tuple[Suggestions, ...] | UnsetType = UNSET
    shots_that_differ: tuple[Difference, ...] | UnsetType = UNSET


class OneOf(msgspec.Struct, frozen=True, kw_only=True):
    """So many of so many."""

    count: int
    of: int
    share: float | None
    interval: Pair | None  # of the share, 95 %


class LongestStreak(msgspec.Struct, frozen=True, kw_only=True):
    """The most balls in a row that were in."""

    balls: int
    ended: Moment


class Counted(ShareIn, frozen=True, kw_only=True):
    """What is counted of some balls."""

    balls: int
    in_target: OneOf
    errors: dict[str, OneOf]  # by the error
    errors_repeated: OneOf
    series_with_a_streak: OneOf
    longest_streak: LongestStreak | None


class OverLessons(msgspec.Struct, frozen=True, kw_only=True):
    """Where a share went from lesson to lesson."""

    way: str
    lessons: int  # over which it was judged
    p: float | None  # how likely chance alone makes as straight a way
    level: float | None  # what that had to be under
    halves: tuple[float | None, float | None] | None  # the share in each half


class CountedKind(Counted, frozen=True, kw_only=True):
    """The same of one kind of feed, over lessons."""

    trend: OverLessons


class ClimbedFromTo(msgspec.Struct, frozen=True, kw_only=True):
    """The feeds on which a player began and ended."""

    began: str
    ended: str


class RecordLesson(Counted, frozen=True, kw_only=True):
    """One lesson of the player."""

    lesson: int
    begun: Moment
    title: str
    progressions: dict[str, ClimbedFromTo]  # by the progression's name
    kinds: dict[str, Counted]  # by the kind of feed


class HowJudged(msgspec.Struct, frozen=True, kw_only=True):
    """How trends are judged."""

    level: float  # in all, of saying that there is one where there is none
    looks: tuple[int, ...]  # after so many lessons


class RecordDocument(Counted, frozen=True, kw_only=True):
    """`feedscript review --record`: one player over all lessons."""

    player: str
    rehearsals: bool  # these are rehearsals: there are no lessons
    rehearsals_left_out: int
    lessons_in_two_journals: int  # counted once
    passed_over: Diagnostics  # what could not be read
    trends: HowJudged
    trend: OverLessons
    error_trends: dict[str, OverLessons]  # by the error
    repeats_trend: OverLessons
    kinds: dict[str, CountedKind]  # by the kind of feed
    lessons: tuple[RecordLesson, ...]


DOCUMENTS = {"lessons": Lessons, "review": Review, "record": RecordDocument}
