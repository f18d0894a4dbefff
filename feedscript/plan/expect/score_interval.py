"""The score interval of a share.

E. B. Wilson, "Probable inference, the law of succession, and statistical inference", Journal of
the American Statistical Association 22 (1927), 209-212. Unlike the textbook interval it stays
inside 0 to 1 and keeps its promise for shares near either end, which is where feeds are.
"""

from __future__ import annotations

import math

#: How sure an interval is: the true share lies inside it for so many of a hundred intervals.
CONFIDENCE = 0.95


def score_interval(hits: int, draws: int, confidence: float = CONFIDENCE) -> tuple[float, float]:
    """The interval for the share behind ``hits`` of ``draws`` (at least one draw)."""
    if not 0 <= hits <= draws or draws < 1:
        raise ValueError(f"{hits} hits of {draws} draws are no share")
    from statistics import NormalDist  # only where a share is judged: it reads in much else

    z = NormalDist().inv_cdf(0.5 + confidence / 2)
    share, weight = hits / draws, z * z / draws
    middle = (share + weight / 2) / (1 + weight)
    half = z / (1 + weight) * math.sqrt(share * (1 - share) / draws + weight / (4 * draws))
    # With no hit or no miss the interval reaches the end; rounding must not step past it.
    low = 0.0 if hits == 0 else max(0.0, middle - half)
    high = 1.0 if hits == draws else min(1.0, middle + half)
    return low, high
