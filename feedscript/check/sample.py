"""A sceptical second opinion: whole runs drawn by chance, held against the certified envelope.

Each run draws every choice, order, variation and answer from its own seed; each ball strays at the
mouth as the profile says and is flown. What the analysis says can never happen (a pair of feeds,
a gap, a count, a speed) must not happen once; what three sigma let through (a landing outside the
ellipse, a ball lower at the net or higher at its apex than stated, a ball where people, a court
beside, a roof, the room behind a fence or another station's balls are) must not happen more often
than three sigma allow.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping
from typing import Any

import msgspec

from feedscript.check.in_pieces.balls import OUT_OF_ELLIPSE, chunks
from feedscript.check.in_pieces.case import Case
from feedscript.check.in_pieces.pieces import (
    RUN_BALLS,
    Answer,
    BallsAnswer,
    BallsPiece,
    RunsAnswer,
    RunsPiece,
    Surprise,
)
from feedscript.check.in_pieces.watch import Watch, unwatched
from feedscript.check.in_pieces.work import Alone, Workers
from feedscript.safety.analysis.plan_facts import PlanFacts

#: Flights bend where propagation of the first order is straight, so a little more gets out than the
#: normal law says. A fifth more is taken as agreement; design value.
BEND = 1.2


class Excess(msgspec.Struct, frozen=True):
    """One kind of event: how often it came, and how often it may."""

    what: str
    count: int
    balls: int
    allowed_share: float

    @property
    def most(self) -> float:
        """What is let through: the allowed count with its bend, and three standard errors."""
        expected = self.balls * self.allowed_share * BEND
        return expected + 3.0 * math.sqrt(expected)

    @property
    def agrees(self) -> bool:
        return self.count <= self.most


class Sample(msgspec.Struct, frozen=True):
    """What the drawn runs did."""

    runs: int
    balls: int
    surprises: tuple[Surprise, ...]
    excesses: tuple[Excess, ...]

    @property
    def agrees(self) -> bool:
        return not self.surprises and all(excess.agrees for excess in self.excesses)


def sample(
    facts: PlanFacts,
    runs: int,
    seed: int,
    workers: Workers | None = None,
    watch: Watch[Any] = unwatched,
) -> Sample:
    """Draw ``runs`` whole runs, with the seeds ``seed``, ``seed + 1`` and so on.

    The same whoever the workers are and however many: this process alone without any.
    """
    case, workers = Case(facts), Alone() if workers is None else workers
    sent: Counter[int] = Counter()
    surprises: list[Surprise] = []
    asked = list(_runs(facts, runs, seed))
    drawn = workers.answers((case, piece) for piece in asked)
    for answer in watch("runs", drawn, len(asked)):
        assert isinstance(answer, RunsAnswer)
        sent.update(dict(answer.sent))
        surprises += answer.surprises
    pieces = list(_balls(facts, sent, seed))
    flown = workers.answers((case, piece) for piece in pieces)
    excesses = _excesses(facts, watch("balls", flown, len(pieces)))
    return Sample(runs, sum(sent.values()), tuple(surprises), excesses)


def _runs(facts: PlanFacts, runs: int, seed: int) -> Iterator[RunsPiece]:
    """The runs in pieces, whose size the plan alone says."""
    each = max(1, RUN_BALLS // max(facts.plan.bounds.balls[1], 1))
    for done in range(0, runs, each):
        yield RunsPiece(seed + done, min(each, runs - done))


def _balls(facts: PlanFacts, sent: Mapping[int, int], seed: int) -> Iterator[BallsPiece]:
    """The balls in pieces: a feed alone, or with those from which its balls keep away."""
    for feeds in _together(sent, facts.at_once):
        totals = tuple((feed, sent[feed]) for feed in feeds)
        for chunk in range(max(chunks(total) for _, total in totals)):
            yield BallsPiece(seed, totals, chunk)


def _together(sent: Iterable[int], pairs: Iterable[tuple[int, int]]) -> list[list[int]]:
    """The feeds in sets that no pair leads out of, all in order."""
    group = {feed: [feed] for feed in sent}
    for one, other in pairs:
        if one in group and other in group and group[one] is not group[other]:
            group[one] += group[other]
            group.update(dict.fromkeys(group[other], group[one]))
    return sorted({id(feeds): sorted(feeds) for feeds in group.values()}.values())


def _shares(sigma: float) -> tuple[float, float]:
    """The share of balls that scatter may let out at so many sigma.

    Outside an ellipse in two dimensions exp(-k^2/2), past one end of a line 1 - Phi(k).
    """
    return math.exp(-(sigma**2) / 2.0), math.erfc(sigma / math.sqrt(2.0)) / 2.0


def _excesses(facts: PlanFacts, flown: Iterable[Answer]) -> tuple[Excess, ...]:
    counts: Counter[str] = Counter()
    trials: Counter[str] = Counter()
    for answer in flown:
        assert isinstance(answer, BallsAnswer)
        for what, trial, count in answer.counts:
            counts[what] += count
            trials[what] += trial
    ellipse, end = _shares(facts.sigma)
    return tuple(
        Excess(what, counts[what], trial, ellipse if what == OUT_OF_ELLIPSE else end)
        for what, trial in trials.items()
    )
