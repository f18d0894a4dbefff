"""What chance alone would do as well: nothing is told of a launcher that it would do more often
than once in a hundred times."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

#: Something is told when chance alone would do as much less often than this.
LEVEL = 0.01


def moved(landings: Sequence[tuple[float, float]]) -> bool:
    """Whether landings, in their own standard deviations, lie to one side more than chance allows:
    their mean is normal with 1 / sqrt(n), and of two axes either may show it."""
    mean = np.mean(np.array(landings), axis=0)
    score = float(np.max(np.abs(mean))) * math.sqrt(len(landings))
    return math.erfc(score / math.sqrt(2.0)) < LEVEL / 2


def wider(landings: Sequence[tuple[float, float]]) -> bool:
    """Whether they scatter about their own mean more than chance allows: a chi-squared of
    2 (n - 1) degrees, by the cube root (E. B. Wilson, M. M. Hilferty, "The distribution of
    chi-square", 1931)."""
    found = np.array(landings)
    total = float(np.sum((found - found.mean(axis=0)) ** 2))
    spread = 2.0 / (9.0 * 2 * (len(found) - 1))
    score = ((total / (2 * (len(found) - 1))) ** (1 / 3) - (1 - spread)) / math.sqrt(spread)
    return 0.5 * math.erfc(score / math.sqrt(2.0)) < LEVEL


def worse(balls_before: int, bad_before: int, balls: int, bad: int) -> bool:
    """Whether more went wrong lately than before, for as many balls, by more than chance: given
    all that went wrong, how much of it fell lately is binomial by the share of the balls."""
    total, share = bad_before + bad, balls / max(1, balls + balls_before)
    if not balls_before or not balls:
        return False
    tail = sum(
        math.comb(total, k) * share**k * (1 - share) ** (total - k) for k in range(bad, total + 1)
    )
    return bad > 0 and tail < LEVEL


def spread(landings: Sequence[tuple[float, float]]) -> float | None:
    """How widely they scatter about their own mean: 1 where it is as the profile says. None for
    fewer than two."""
    if len(landings) < 2:
        return None
    found = np.array(landings)
    total = float(np.sum((found - found.mean(axis=0)) ** 2))
    return math.sqrt(total / (2 * (len(found) - 1)))
