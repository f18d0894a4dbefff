"""Whether a share went up or down from lesson to lesson, and how sure that is.

Days differ: a lesson has good and bad form, so its balls are no independent draws, and a test over
balls would find trends that are none. The lesson is the unit here.

Two things make a chance find likelier than one test says, and both are paid for: a coach looks
after every lesson, and looks at several figures at once. A trend is judged anew only after so many
lessons (:data:`LOOKS`), and the level is shared out among those looks and the figures, so that of
the records of players who do not change, followed through a season, fewer than :data:`LEVEL` ever
name a trend.
"""

from __future__ import annotations

import math
from bisect import bisect_right
from collections.abc import Hashable, Mapping, Sequence
from enum import StrEnum
from typing import TypeAlias, TypeVar

import msgspec

#: Of records without any trend, at most this share ever name one in a season.
LEVEL = 0.05
#: After so many lessons in which it was recorded a figure is judged; until the next of these the
#: judgement stays. Then again after every eight (design value).
LOOKS = (8, 12, 16, 24, 32, 40)
_THEN_EVERY = 8
#: A trend is one over so many lessons at most: a year of weekly ones without the holidays.
SEASON = LOOKS[-1]

#: What was counted in each lesson: how many were so, and of how many.
Counts: TypeAlias = Sequence[tuple[int, int]]
F = TypeVar("F", bound=Hashable)  # a figure


class Way(StrEnum):
    """Where a share went from lesson to lesson."""

    UP = "up"
    DOWN = "down"
    NONE = "no clear trend"
    TOO_FEW = "too few lessons to say"


class Trend(msgspec.Struct, frozen=True):
    """What is said of one figure. ``lessons`` it was judged over; ``p`` is how likely chance alone
    makes as straight a way; ``level`` is what ``p`` had to be under; shares of the two halves."""

    way: Way
    lessons: int = 0
    p: float | None = None
    level: float | None = None
    first: float | None = None
    last: float | None = None

    @property
    def found(self) -> bool:
        """Whether there is one."""
        return self.way in (Way.UP, Way.DOWN)


def judged(counts: Counts) -> Counts:
    """The lessons over which a figure is judged now; none where there are too few yet."""
    recorded = [(made, of) for made, of in counts if of]
    size = _look(len(recorded))
    return recorded[max(0, size - SEASON) : size]


def _look(lessons: int) -> int:
    """The last of the looks that so many lessons have come to, 0 before the first."""
    if lessons >= SEASON:
        return lessons - (lessons - SEASON) % _THEN_EVERY
    at = bisect_right(LOOKS, lessons)
    return LOOKS[at - 1] if at else 0


def chance_of(counts: Counts) -> tuple[float, float] | None:
    """The slope's sign as a correlation, and the two-sided chance of one as strong.

    Each lesson's surplus over the share of all of them is held against its place in the row: if
    lessons could as well have come in any other order, this is the correlation test of E. J. G.
    Pitman, "Significance tests which may be applied to samples from any populations. II. The
    correlation coefficient test", Supplement to the J. Royal Statist. Soc. 4 (1937), 225-232,
    whose chances are nearly those of Student's t with two degrees of freedom fewer than lessons.
    None where every lesson was alike, or there are fewer than three.
    """
    size = len(counts)
    share = sum(made for made, _ in counts) / (sum(of for _, of in counts) or 1)
    surplus = [made - of * share for made, of in counts]
    place = [at - (size - 1) / 2 for at in range(size)]
    both = math.fsum(s * x for s, x in zip(surplus, place, strict=True))
    spread = math.fsum(s * s for s in surplus) * math.fsum(x * x for x in place)
    if size < 3 or spread <= 1e-12:
        return None
    r = both / math.sqrt(spread)
    if abs(r) >= 1.0 - 1e-12:
        return r, 0.0
    return r, student_tail(abs(r) * math.sqrt((size - 2) / (1 - r * r)), size - 2)


def student_tail(t: float, degrees: int) -> float:
    """The two-sided chance of Student's t beyond ``t`` (at least 0) with whole degrees of freedom.

    The finite series of M. Abramowitz & I. A. Stegun, "Handbook of Mathematical Functions" (1964),
    26.7.3 and 26.7.4.
    """
    angle = math.atan(t / math.sqrt(degrees))
    sine, square = math.sin(angle), math.cos(angle) ** 2
    odd = degrees % 2
    term = math.cos(angle) if odd else 1.0
    total = 0.0
    for step in range(degrees // 2):
        total += term
        term *= square * (2 * step + 1 + odd) / (2 * step + 2 + odd)
    inside = 2 / math.pi * (angle + sine * total) if odd else sine * total
    return max(0.0, 1.0 - inside)


def trends(main: Counts, others: Mapping[F, Counts]) -> tuple[Trend, dict[F, Trend]]:
    """What is said of the main figure and of the others, all together at :data:`LEVEL`.

    The main figure gets half of a look's level, the others share the other half (Bonferroni).
    Every figure that is there takes its part, also one that had too few lessons: what is said of
    one must not hang on the others' luck.
    """
    half = LEVEL / len(LOOKS) / 2
    each = half / len(others) if others else half
    return _said(main, half), {name: _said(counts, each) for name, counts in others.items()}


def _said(counts: Counts, level: float) -> Trend:
    over = judged(counts)
    if not over:
        return Trend(Way.TOO_FEW)
    middle = len(over) // 2
    first, last = _share(over[:middle]), _share(over[-middle:])
    found = chance_of(over)
    r, p = found or (0.0, 1.0)
    way = Way.NONE
    if p < level:
        way = Way.UP if r > 0 else Way.DOWN
    return Trend(way, len(over), p, level, first, last)


def _share(counts: Counts) -> float:
    return sum(made for made, _ in counts) / sum(of for _, of in counts)
