"""What a share of balls can tell, and what it cannot: intervals, differences, trends.

A lesson gives a player some twenty balls, so every share is uncertain by a good deal; the report
says by how much instead of making much of luck. All intervals are for 95 %.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from statistics import NormalDist

_Z = NormalDist().inv_cdf(0.975)


def interval(made: int, of: int) -> tuple[float, float]:
    """The score interval of a share, ``made`` of ``of`` (at least 1).

    E. B. Wilson, "Probable inference, the law of succession, and statistical inference", Journal
    of the American Statistical Association 22 (1927), 209-212; without continuity correction.
    """
    share = made / of
    middle = share + _Z**2 / (2 * of)
    reach = _Z * math.sqrt(share * (1 - share) / of + _Z**2 / (4 * of**2))
    scale = 1 + _Z**2 / of
    # With all in, or none, the end of the interval is the share itself; rounding must not miss it.
    low = 0.0 if made == 0 else (middle - reach) / scale
    high = 1.0 if made == of else (middle + reach) / scale
    return low, high


def difference(made: int, of: int, made_before: int, of_before: int) -> tuple[float, float]:
    """The interval of the difference of two shares, the first less the second.

    R. G. Newcombe, "Interval estimation for the difference between independent proportions:
    comparison of eleven methods", Statistics in Medicine 17 (1998), 873-890, method 10.
    """
    now, before = made / of, made_before / of_before
    low, high = interval(made, of)
    low_before, high_before = interval(made_before, of_before)
    gap = now - before
    return (
        gap - math.hypot(now - low, high_before - before),
        gap + math.hypot(high - now, before - low_before),
    )


@dataclass(frozen=True, slots=True)
class Line:
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
