"""What became of one expectation."""

from __future__ import annotations

from enum import StrEnum

import msgspec


class ExpectationStanding(StrEnum):
    """Whether an expectation is met.

    Inconclusive: more draws would be needed to tell. Untested: it speaks of nothing that happens.
    """

    PASSES = "passes"
    FAILS = "fails"
    INCONCLUSIVE = "inconclusive"
    UNTESTED = "untested"


class CounterExample(msgspec.Struct, frozen=True):
    """Where to look: ``ball`` is the ball of that launcher in the run, or the draw, of ``seed``."""

    seed: int
    ball: int
    words: str


class About(StrEnum):
    """What a worst case is about."""

    NET = "net"  # room over the cord
    ARRIVES = "arrives"  # height at the receiver
    INSIDE = "inside"  # an area in which the scatter lies
    WITHIN = "within"  # how near to its place a ball lands
    WAITS = "waits"  # a player without a ball


class WorstCase(msgspec.Struct, frozen=True, kw_only=True):
    """Where the worst of it is, to be drawn: at a feed (index into the plan's) or for a player.

    ``got_m`` and ``asked_m``: from the least to the greatest, None for no end. ``outline_m``: the
    area that was asked for, in which the ellipse of ``sigma`` deviations shall lie.
    """

    about: About
    feed: int | None = None
    player: int | None = None
    got_m: tuple[float, float] | None = None
    asked_m: tuple[float, float | None] | None = None
    outline_m: tuple[tuple[float, float], ...] = ()
    sigma: float = 0.0


class Outcome(msgspec.Struct, frozen=True):
    """The verdict, the figure it rests on, and for a percentage its interval of confidence."""

    standing: ExpectationStanding
    figure: str
    counter_example: CounterExample | None = None
    interval: tuple[float, float] | None = None
    worst: WorstCase | None = None


def undecided(figure: str, worst: WorstCase | None = None) -> Outcome:
    """Only drawn balls or runs could tell, and they have not told it."""
    return Outcome(ExpectationStanding.INCONCLUSIVE, figure, worst=worst)


def untested(figure: str) -> Outcome:
    """There is nothing to hold the expectation against."""
    return Outcome(ExpectationStanding.UNTESTED, figure)


def passes(figure: str, worst: WorstCase | None = None) -> Outcome:
    """The expectation is met."""
    return Outcome(ExpectationStanding.PASSES, figure, worst=worst)


def fails(
    figure: str, counter_example: CounterExample | None = None, worst: WorstCase | None = None
) -> Outcome:
    """The expectation is not met."""
    return Outcome(ExpectationStanding.FAILS, figure, counter_example, worst=worst)
