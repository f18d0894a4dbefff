"""What a player's lessons come to: shares with their ranges, streaks, and trends where there are
any.

A share is of the balls that somebody recorded. Its range is the score interval (95 %).
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from itertools import groupby

import msgspec

from feedscript.journal.redaction import Key, name_key
from feedscript.plan.model import Result
from feedscript.review.record.history import History
from feedscript.review.record.trends import Counts, Trend, trends
from feedscript.review.report.figures import Share, count_repeats, in_target_of, share_of
from feedscript.review.report.lesson import ERRORS, Ball, Lesson, series_of

#: So many in court one after the other are called a streak: common practice, no source.
STREAK = 3


class Streak(msgspec.Struct, frozen=True):
    """The longest row of balls in court, and when its last ball left."""

    balls: int
    ended_utc_s: float


class Counted(msgspec.Struct, frozen=True):
    """Some balls of one player, over one lesson or many.

    ``errors`` and ``share`` are of the recorded balls, ``in_target`` of those with a target;
    ``repeats`` of the errors whose next ball
    was recorded; ``streaks`` are series with a streak, of the series that could hold one.
    """

    balls: int
    share: Share
    in_target: Share
    errors: dict[Result, Share]
    repeats: Share
    streaks: Share
    longest: Streak | None


class InLesson(msgspec.Struct, frozen=True):
    """One lesson: the whole of it, and by kind of ball."""

    lesson: Lesson
    whole: Counted
    kinds: dict[str, Counted]


class Kind(msgspec.Struct, frozen=True):
    """One kind of ball over all lessons."""

    counted: Counted
    trend: Trend


class Record(msgspec.Struct, frozen=True, kw_only=True):
    """A player's record, over lessons oldest first."""

    history: History
    lessons: tuple[InLesson, ...]
    whole: Counted
    kinds: dict[str, Kind]
    trend: Trend  # of the share in court
    error_trends: dict[Result, Trend]
    repeats_trend: Trend

    @property
    def player(self) -> str:
        return self.history.player


def counted(balls: Sequence[Ball]) -> Counted:
    """The figures of some balls of one player, in the order they left."""
    share = share_of(balls)
    results = Counter(ball.result for ball in balls)
    rows = [row for run in series_of(balls) for row in _rows(run)]
    able = [run for run in series_of(balls) if share_of(run).recorded >= STREAK]
    held = sum(any(len(row) >= STREAK for row in _rows(run)) for run in able)
    best = max(rows, key=len, default=())
    return Counted(
        balls=len(balls),
        share=share,
        in_target=in_target_of(balls),
        errors={error: Share(results[error], share.recorded) for error in ERRORS},
        repeats=Share(*count_repeats(balls)),
        streaks=Share(held, len(able)),
        longest=Streak(len(best), best[-1].left_utc_s) if best else None,
    )


def _good(ball: Ball) -> bool:
    return ball.result is not None and ball.result.good


def _rows(run: Sequence[Ball]) -> list[tuple[Ball, ...]]:
    """The rows of balls in court within a series. As in the language, one that nobody recorded
    neither counts nor breaks a row."""
    recorded = [ball for ball in run if ball.result is not None]
    by_result = groupby(recorded, key=_good)
    return [tuple(row) for made, row in by_result if made]


def record_of(history: History) -> Record:
    """The record over a player's lessons."""
    names = _kind_names(history.lessons)
    lessons = tuple(_in_lesson(lesson, names) for lesson in history.lessons)
    balls = _balls(history.lessons)
    kinds = {
        name: counted([ball for ball in balls if name_key(ball.kind) == key])
        for key, name in names.items()
    }
    figures: dict[tuple[str, str], Counts] = {
        ("kind", name): _made(_of_kind(lessons, name)) for name in kinds
    }
    for error in ERRORS:
        figures["error", error] = _made([one.whole.errors[error] for one in lessons])
    figures["repeats", ""] = _made([one.whole.repeats for one in lessons])
    main, others = trends(_made([one.whole.share for one in lessons]), figures)
    return Record(
        history=history,
        lessons=lessons,
        whole=counted(balls),
        kinds={name: Kind(found, others["kind", name]) for name, found in kinds.items()},
        trend=main,
        error_trends={error: others["error", error] for error in ERRORS},
        repeats_trend=others["repeats", ""],
    )


def _kind_names(lessons: Sequence[Lesson]) -> dict[Key, str]:
    """Each kind of ball under its key, as it was last written, in the order of first use."""
    names: dict[Key, str] = {}
    for lesson in lessons:
        names.update((name_key(ball.kind), ball.kind) for ball in lesson.played)
    return names


def _balls(lessons: Sequence[Lesson]) -> list[Ball]:
    """All balls, the series of each lesson kept apart from those of the others."""
    balls: list[Ball] = []
    above = 0
    for lesson in lessons:
        played = lesson.played
        balls += [msgspec.structs.replace(ball, series=ball.series + above) for ball in played]
        above += max((ball.series for ball in played), default=0)
    return balls


def _in_lesson(lesson: Lesson, names: dict[Key, str]) -> InLesson:
    by_kind: dict[str, list[Ball]] = {}
    for ball in lesson.played:
        by_kind.setdefault(names[name_key(ball.kind)], []).append(ball)
    kinds = {name: counted(balls) for name, balls in by_kind.items()}
    return InLesson(lesson, counted(lesson.played), kinds)


def _of_kind(lessons: Sequence[InLesson], name: str) -> list[Share]:
    return [one.kinds[name].share for one in lessons if name in one.kinds]


def _made(shares: Sequence[Share]) -> list[tuple[int, int]]:
    return [(share.made, share.recorded) for share in shares]
