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


class Outcome(msgspec.Struct, frozen=True):
    """The verdict, the figure it rests on, and for a percentage its interval of confidence."""

    standing: ExpectationStanding
    figure: str
    counter_example: CounterExample | None = None
    interval: tuple[float, float] | None = None


def undecided(figure: str) -> Outcome:
    """Only drawn balls or runs could tell, and they have not told it."""
    return Outcome(ExpectationStanding.INCONCLUSIVE, figure)


def untested(figure: str) -> Outcome:
    """There is nothing to hold the expectation against."""
    return Outcome(ExpectationStanding.UNTESTED, figure)


def passes(figure: str) -> Outcome:
    """The expectation is met."""
    return Outcome(ExpectationStanding.PASSES, figure)


def fails(figure: str, counter_example: CounterExample | None = None) -> Outcome:
    """The expectation is not met."""
    return Outcome(ExpectationStanding.FAILS, figure, counter_example)
