"""What a lesson's records come to: shares, errors, errors repeated, the trend, the next step."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from itertools import pairwise

from feedscript.plan.model import Result
from feedscript.review.lesson import ERRORS, Ball, Lesson

#: The rule for the next step, a design value: at least this share in over the last two series
#: that were recorded asks for more, less than the other asks for less. Always a suggestion.
HARDER_FROM = 0.70
EASIER_BELOW = 0.40
SERIES_JUDGED = 2
#: A share of fewer balls than this says too little to suggest anything (design value).
BALLS_TO_JUDGE = 8
#: A pause longer than this between two balls of one player begins a new series (design value:
#: longer than any interval of a drill, shorter than a turn of somebody else).
SERIES_PAUSE_S = 15.0
#: The hour is cut into this many equal parts to show a trend.
TREND_PARTS = 4


class NextStep(StrEnum):
    """What the records suggest for next time."""

    HARDER = "harder"
    SAME = "the same again"
    EASIER = "easier"
    TOO_FEW = "too few recorded to say"


@dataclass(frozen=True, slots=True)
class Figures:
    """The figures of some balls. ``share_in`` is None when nothing was recorded."""

    balls: int
    recorded: int
    made: int
    errors: dict[Result, int]
    repeats: int  # an error that is the same as the error just before it
    repeat_chances: int  # errors that had a recorded ball just before them
    trend: tuple[float | None, ...]
    next_step: NextStep

    @property
    def share_in(self) -> float | None:
        return self.made / self.recorded if self.recorded else None

    @property
    def repeat_share(self) -> float | None:
        """Of the errors that could repeat the one before, how many did."""
        return self.repeats / self.repeat_chances if self.repeat_chances else None


def share_in(balls: Sequence[Ball]) -> float | None:
    """The share in the target of those recorded; None when none was."""
    recorded = [ball for ball in balls if ball.result is not None]
    if not recorded:
        return None
    return sum(ball.result is Result.IN for ball in recorded) / len(recorded)


def figures(balls: Sequence[Ball]) -> Figures:
    """The figures of one player's balls, or of one feed's, in the order they left."""
    results = [ball.result for ball in balls if ball.result is not None]
    counted = Counter(results)
    repeats, chances = _repeats(balls)
    return Figures(
        balls=len(balls),
        recorded=len(results),
        made=counted[Result.IN],
        errors={error: counted[error] for error in ERRORS},
        repeats=repeats,
        repeat_chances=chances,
        trend=_trend(balls),
        next_step=next_step(balls),
    )


def _repeats(balls: Sequence[Ball]) -> tuple[int, int]:
    """Same error twice running, and how often an error followed an error, within one series."""
    repeats = chances = 0
    for run in series_of(balls):
        results = [ball.result for ball in run if ball.result is not None]
        for before, now in pairwise(results):
            if before is Result.IN or now is Result.IN:
                continue
            chances += 1
            repeats += before is now
    return repeats, chances


def _trend(balls: Sequence[Ball]) -> tuple[float | None, ...]:
    """The share in for each quarter of these balls, in order; None where none was recorded."""
    size = len(balls)
    edges = [size * part // TREND_PARTS for part in range(TREND_PARTS + 1)]
    return tuple(share_in(balls[a:b]) for a, b in pairwise(edges))


def next_step(balls: Sequence[Ball]) -> NextStep:
    """The stated rule over the last two series with records."""
    judged = [run for run in series_of(balls) if share_in(run) is not None]
    last = [ball for run in judged[-SERIES_JUDGED:] for ball in run if ball.result is not None]
    share = share_in(last)
    if share is None or len(judged) < SERIES_JUDGED or len(last) < BALLS_TO_JUDGE:
        return NextStep.TOO_FEW
    if share >= HARDER_FROM:
        return NextStep.HARDER
    return NextStep.EASIER if share < EASIER_BELOW else NextStep.SAME


def series_of(balls: Sequence[Ball]) -> tuple[tuple[Ball, ...], ...]:
    """Cut one player's balls into series wherever a long pause lies between two of them."""
    runs: list[list[Ball]] = []
    for ball in balls:
        if runs and ball.left_utc_s - runs[-1][-1].left_utc_s <= SERIES_PAUSE_S:
            runs[-1].append(ball)
        else:
            runs.append([ball])
    return tuple(tuple(run) for run in runs)


@dataclass(frozen=True, slots=True)
class PlayerFigures:
    """One player's lesson: whole, by feed, and against the lesson before."""

    player: str | None
    whole: Figures
    by_feed: dict[str, Figures]
    share_before: float | None


def player_figures(lesson: Lesson, before: Lesson | None) -> tuple[PlayerFigures, ...]:
    """Everyone's figures, balls of nobody in particular last.

    ``before`` is the lesson to compare with, or None where there is none.
    """
    nobody = any(ball.player is None for ball in lesson.balls)
    everyone: tuple[str | None, ...] = (*lesson.players, *((None,) if nobody else ()))
    return tuple(_one(lesson, player, before) for player in everyone)


def _one(lesson: Lesson, player: str | None, before: Lesson | None) -> PlayerFigures:
    balls = lesson.of(player)
    feeds = dict.fromkeys(ball.feed for ball in balls)
    return PlayerFigures(
        player=player,
        whole=figures(balls),
        by_feed={feed: figures([ball for ball in balls if ball.feed == feed]) for feed in feeds},
        share_before=share_in(before.of(player)) if before is not None else None,
    )
