"""What a lesson's records come to: shares, errors, errors repeated, the trend, the next step."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from enum import StrEnum
from itertools import pairwise

import msgspec

from feedscript.plan.expect.score_interval import score_interval
from feedscript.plan.model import Result
from feedscript.review.report import shares
from feedscript.review.report.lesson import ERRORS, WEEKS_SHOWN, Ball, Lesson, series_of
from feedscript.review.report.waiting import Waiting

#: The rule for the next step, a design value: at least this share in over the last two series
#: that were recorded asks for more, less than the other asks for less. Always a suggestion.
HARDER_FROM = 0.70
EASIER_BELOW = 0.40
SERIES_JUDGED = 2
#: A share of fewer balls than this says too little to suggest anything: with ten, the interval of
#: a share is still half of everything wide (design value).
BALLS_TO_JUDGE = 10
#: A trend is looked for in at least so many recorded balls (design value), and is called one where
#: chance alone gives it less often than this.
BALLS_FOR_TREND = 16
TREND_P = 0.05
#: The lesson is cut into this many equal parts to show a trend.
TREND_PARTS = 4


class NextStep(StrEnum):
    """What the records suggest for next time."""

    HARDER = "harder"
    SAME = "the same again"
    EASIER = "easier"
    TOO_FEW = "too few recorded to say"


class Direction(StrEnum):
    """Where the share in went through the lesson."""

    RISING = "rising"
    FALLING = "falling"
    NONE = "no clear trend"
    TOO_FEW = "too few recorded to say"


class Share(msgspec.Struct, frozen=True):
    """Balls in court of those recorded."""

    made: int
    recorded: int

    @property
    def value(self) -> float | None:
        """None when nothing was recorded."""
        return self.made / self.recorded if self.recorded else None

    @property
    def interval(self) -> tuple[float, float] | None:
        """The score interval, 95 %."""
        return score_interval(self.made, self.recorded) if self.recorded else None


class Trend(msgspec.Struct, frozen=True):
    """The share in through the lesson; ``line`` where there were balls enough to fit one."""

    parts: tuple[Share, ...]
    direction: Direction
    line: shares.Line | None


class Figures(msgspec.Struct, frozen=True):
    """The figures of some balls."""

    balls: int
    share: Share
    in_target: int  # of those in court
    errors: dict[Result, int]
    repeats: int  # errors that the next ball repeated
    repeat_chances: int  # errors whose next ball in the series was recorded
    trend: Trend
    next_step: NextStep
    landings: tuple[tuple[float, float, Result], ...]  # x and y in metres, and the result

    @property
    def missed(self) -> int:
        return sum(self.errors.values())

    @property
    def repeat_share(self) -> float | None:
        """The repeated-error rate: of the errors that were followed, how many were repeated."""
        return self.repeats / self.repeat_chances if self.repeat_chances else None


def share_of(balls: Sequence[Ball]) -> Share:
    """The share in court of those recorded."""
    recorded = [ball.result for ball in balls if ball.result is not None]
    return Share(sum(result.good for result in recorded), len(recorded))


def in_target_of(balls: Sequence[Ball]) -> Share:
    """The share in the target, of those recorded in exercises that have one."""
    recorded = [ball.result for ball in balls if ball.target and ball.result is not None]
    return Share(recorded.count(Result.TARGET), len(recorded))


def figures(balls: Sequence[Ball]) -> Figures:
    """The figures of one player's balls, or of one feed's, in the order they left."""
    counted = Counter(ball.result for ball in balls if ball.result is not None)
    repeats, chances = count_repeats(balls)
    return Figures(
        balls=len(balls),
        share=share_of(balls),
        in_target=counted[Result.TARGET],
        errors={error: counted[error] for error in ERRORS},
        repeats=repeats,
        repeat_chances=chances,
        trend=_trend(balls),
        next_step=next_step(balls),
        landings=tuple(
            (*ball.landing_m, ball.result) for ball in balls if ball.landing_m and ball.result
        ),
    )


def count_repeats(balls: Sequence[Ball]) -> tuple[int, int]:
    """How often an error was followed by the same one, and by any recorded ball.

    What follows is the next of these balls in the same series; where it was not recorded nobody
    knows, and the error does not count.
    """
    repeats = chances = 0
    for run in series_of(balls):
        for before, now in pairwise(run):
            if before.result is None or before.result.good or now.result is None:
                continue
            chances += 1
            repeats += before.result is now.result
    return repeats, chances


def _trend(balls: Sequence[Ball]) -> Trend:
    size = len(balls)
    edges = [size * part // TREND_PARTS for part in range(TREND_PARTS + 1)]
    parts = tuple(share_of(balls[a:b]) for a, b in pairwise(edges))
    recorded = [ball for ball in balls if ball.result is not None]
    if len(recorded) < BALLS_FOR_TREND:
        return Trend(parts, Direction.TOO_FEW, None)
    made = [ball.result is not None and ball.result.good for ball in recorded]
    line = shares.trend_line([ball.left_utc_s for ball in recorded], made)
    if line is None or line.p >= TREND_P:
        return Trend(parts, Direction.NONE, line)
    rising = line.last > line.first
    return Trend(parts, Direction.RISING if rising else Direction.FALLING, line)


def next_step(balls: Sequence[Ball]) -> NextStep:
    """The stated rule over the last two series with records."""
    judged = [run for run in series_of(balls) if share_of(run).recorded]
    last = share_of([ball for run in judged[-SERIES_JUDGED:] for ball in run])
    if last.value is None or len(judged) < SERIES_JUDGED or last.recorded < BALLS_TO_JUDGE:
        return NextStep.TOO_FEW
    if last.value >= HARDER_FROM:
        return NextStep.HARDER
    return NextStep.EASIER if last.value < EASIER_BELOW else NextStep.SAME


class Past(msgspec.Struct, frozen=True):
    """What one player did in one earlier lesson."""

    begun_utc_s: float
    share: Share


class Change(msgspec.Struct, frozen=True):
    """The share in now less that of last time, with the interval of the difference, 95 %."""

    points: float
    low: float
    high: float

    @property
    def clear(self) -> bool:
        """Whether it is more than chance easily gives."""
        return self.low > 0.0 or self.high < 0.0


class PlayerFigures(msgspec.Struct, frozen=True):
    """One player's lesson: whole, by feed, and the lessons before it, oldest first."""

    player: str | None
    whole: Figures
    by_feed: dict[str, Figures]
    past: tuple[Past, ...]
    waiting: Waiting | None = None

    @property
    def last_time(self) -> Past | None:
        """The latest earlier lesson in which something of this player's was recorded."""
        return self.past[-1] if self.past else None

    @property
    def change(self) -> Change | None:
        """Since last time; None where either time nothing was recorded."""
        now, before = self.whole.share, self.last_time.share if self.last_time else None
        if before is None or now.value is None or before.value is None:
            return None
        low, high = shares.difference(now.made, now.recorded, before.made, before.recorded)
        return Change(now.value - before.value, low, high)


def player_figures(lesson: Lesson, earlier: Sequence[Lesson] = ()) -> tuple[PlayerFigures, ...]:
    """Everyone's figures, balls of nobody in particular last. ``earlier`` lessons oldest first."""
    nobody = any(ball.player is None for ball in lesson.played)
    everyone: tuple[str | None, ...] = (*lesson.players, *((None,) if nobody else ()))
    return tuple(_one(lesson, player, earlier) for player in everyone)


def _one(lesson: Lesson, player: str | None, earlier: Sequence[Lesson]) -> PlayerFigures:
    balls = lesson.of(player)
    before = [Past(one.begun_utc_s, share_of(one.of(player))) for one in earlier]
    return PlayerFigures(
        player=player,
        whole=figures(balls),
        by_feed=_by_feed(balls),
        past=tuple(past for past in before if past.share.recorded)[-WEEKS_SHOWN:],
        waiting=lesson.waits.get(player) if player else None,
    )


def feed_figures(lesson: Lesson) -> dict[str, Figures]:
    """Every feed's figures over all players."""
    return _by_feed(lesson.played)


def _by_feed(balls: Sequence[Ball]) -> dict[str, Figures]:
    feeds = dict.fromkeys(ball.feed for ball in balls)
    return {feed: figures([ball for ball in balls if ball.feed == feed]) for feed in feeds}
