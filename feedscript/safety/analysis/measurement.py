"""From many measurements of one number to a rule's finding: the worst of them, and every breach."""

from __future__ import annotations

import math
from collections.abc import Sequence

import msgspec

from feedscript.safety.analysis.rule import Breach, Finding, Worst, nothing


class Measurement(msgspec.Struct, frozen=True):
    """One number held against its limit. Broken unless the margin is zero or more.

    ``words`` names what was measured, in the certificate; ``message`` and ``help`` are the
    diagnostic, used only when the limit is broken.
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


def _badness(measurement: Measurement) -> float:
    return -math.inf if math.isnan(measurement.margin) else measurement.margin


def finding(measurements: Sequence[Measurement], silent: str) -> Finding:
    """The finding over all measurements, worst breach first; ``silent`` says why there are none."""
    if not measurements:
        return nothing(silent)
    worst = min(measurements, key=_badness)
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
                message=measurement.message,
                help=measurement.help,
                feed=measurement.feed,
                after_feed=measurement.after_feed,
                line=measurement.line,
                part=measurement.part,
            )
            for measurement in sorted(measurements, key=_badness)
            if measurement.broken
        ),
    )
