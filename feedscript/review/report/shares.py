"""What a share of balls can tell, and what it cannot: intervals, differences, trends.

A lesson gives a player some twenty balls, so every share is uncertain by a good deal; the report
says by how much instead of making much of luck. All intervals are for 95 %.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import msgspec

from feedscript.plan.expect.score_interval import score_interval


def difference(made: int, of: int, made_before: int, of_before: int) -> tuple[float, float]:
    """The interval of the difference of two shares, the first less the second.

    R. G. Newcombe, "Interval estimation for the difference between independent proportions:
    comparison of eleven methods", Statistics in Medicine 17 (1998), 873-890, method 10.
    """
    now, before = made / of, made_before / of_before
    low, high = score_interval(made, of)
    low_before, high_before = score_interval(made_before, of_before)
    gap = now - before
    return (
        gap - math.hypot(now - low, high_before - before),
        gap + math.hypot(high - now, before - low_before),
    )


class Line(msgspec.Struct, frozen=True):
    """A straight line through hits over time: the share at its two ends, and how likely chance
    alone gives one at least as steep."""

    first: float
    last: float
    p: float


def trend_line(at_s: Sequence[float], made: Sequence[bool]) -> Line | None:
    """The least-squares line through hits (1) and misses (0), in the order of time.

    Chance is judged by the Cochran-Armitage test with the times as scores: P. Armitage, "Tests
    for linear trends in proportions and frequencies", Biometrics 11 (1955), 375-386; two-sided.
    Its statistic is the number of balls times the squared correlation. None where all balls went
    the same way or left at one moment: then there is no line to judge.
    """
    count = len(at_s)
    if count == 0:
        return None
    mean_s, share = math.fsum(at_s) / count, sum(made) / count
    spread = math.fsum((s - mean_s) ** 2 for s in at_s)
    both = math.fsum((s - mean_s) * (hit - share) for s, hit in zip(at_s, made, strict=True))
    if spread == 0.0 or share in (0.0, 1.0):
        return None
    slope = both / spread
    squared = both**2 / (spread * count * share * (1 - share))
    return Line(
        first=_clipped(share + slope * (at_s[0] - mean_s)),
        last=_clipped(share + slope * (at_s[-1] - mean_s)),
        p=math.erfc(math.sqrt(count * squared / 2)),
    )


def _clipped(share: float) -> float:
    return min(1.0, max(0.0, share))
