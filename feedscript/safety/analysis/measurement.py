"""From many readings of one number to a rule's finding: the worst of them, and every breach."""

from __future__ import annotations

import math
from collections.abc import Sequence

import msgspec

from feedscript.safety.analysis.rule import Breach, Finding, Worst, nothing


class Reading(msgspec.Struct, frozen=True):
    """One number held against its limit. Broken unless the margin is zero or more.

    ``words`` names the case in the certificate; ``message`` and ``help`` are the diagnostic, used
    only when the limit is broken.
    """

    value: float
    limit: float
    margin: float
    unit: str
    words: str
    message: str
    help: str
    feed: int | None = None
    after_feed: int | None = None
    line: int | None = None
    part: str = ""

    @property
    def broken(self) -> bool:
        # Written so that a number that is not a number breaks the limit.
        return not self.margin >= 0.0


def within(value: float, least: float, most: float) -> tuple[float, float]:
    """The nearer end of a range, and how far inside it ``value`` is (negative: outside)."""
    if value - least < most - value:
        return least, value - least
    return most, most - value


def _badness(reading: Reading) -> float:
    return -math.inf if math.isnan(reading.margin) else reading.margin


def finding(readings: Sequence[Reading], silent: str) -> Finding:
    """The finding over all readings, worst breach first; ``silent`` says why there are none."""
    if not readings:
        return nothing(silent)
    worst = min(readings, key=_badness)
    return Finding(
        Worst(
            words=worst.words,
            value=worst.value,
            limit=worst.limit,
            margin=worst.margin,
            unit=worst.unit,
            feed=worst.feed,
            after_feed=worst.after_feed,
            line=worst.line,
        ),
        tuple(
            Breach(
                message=reading.message,
                help=reading.help,
                feed=reading.feed,
                after_feed=reading.after_feed,
                line=reading.line,
                part=reading.part,
            )
            for reading in sorted(readings, key=_badness)
            if reading.broken
        ),
    )
