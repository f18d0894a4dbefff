"""Balls, time and the fastest ball of a plan as [least, most], worked out over its tree."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Generic, TypeVar

import msgspec

from feedscript.override import override
from feedscript.plan.bodies import within
from feedscript.plan.folds.fold import Algebra, Fold, Passes
from feedscript.plan.model import (
    Bounds,
    Collect,
    Exercise,
    Plan,
    Rest,
    Send,
    ShowSpeed,
    Station,
)
from feedscript.plan.times import milliseconds

N = TypeVar("N", int, float)


class Reach(msgspec.Struct, Generic[N], frozen=True, gc=False):
    """A number that lies from ``least`` to ``most`` in every run, and reaches both ends."""

    least: N
    most: N

    def plus(self, other: Reach[N]) -> Reach[N]:
        """The reach of the sum of two independent numbers."""
        return Reach(self.least + other.least, self.most + other.most)

    def or_(self, other: Reach[N]) -> Reach[N]:
        """The reach of runs of either kind."""
        return Reach(min(self.least, other.least), max(self.most, other.most))

    def greater(self, other: Reach[N]) -> Reach[N]:
        """The reach of the greater of two independent numbers."""
        return Reach(max(self.least, other.least), max(self.most, other.most))


_NONE = Reach(0, 0)
_NO_BALL = Reach(0.0, 0.0)


class Extent(msgspec.Struct, frozen=True, gc=False):
    """What a segment of a plan takes: balls, time, and its fastest ball (0 without a ball)."""

    balls: Reach[int]
    time_ms: Reach[int]
    fastest_mps: Reach[float]


class Extents(Algebra[Extent]):
    """Every number is the sum or the greatest of independent parts, so its ends add up."""

    def __init__(self, plan: Plan, *, repeated: bool = False) -> None:
        self._speeds = [feed.speed_mps for feed in plan.feeds]
        self._repeated = repeated  # with every repeat of every exercise used

    @override
    def nothing(self) -> Extent:
        return Extent(_NONE, _NONE, _NO_BALL)

    @override
    def send(self, step: Send, feeds: tuple[int, ...]) -> Extent:
        speeds = [self._speeds[feed] for feed in feeds]
        after = Reach(*(milliseconds(bound) for bound in step.after_s))
        return Extent(Reach(1, 1), after, Reach(min(speeds), max(speeds)))

    @override
    def show_speed(self, step: ShowSpeed) -> Extent:
        speed = self._speeds[step.feed]
        return Extent(Reach(1, 1), _NONE, Reach(speed, speed))

    @override
    def rest(self, step: Rest) -> Extent:
        length = milliseconds(step.seconds)
        return Extent(_NONE, Reach(length, length), _NO_BALL)

    @override
    def collect(self, step: Collect) -> Extent:
        length = step.break_ms
        return Extent(_NONE, Reach(length, length), _NO_BALL)

    @override
    def then(self, before: Extent, after: Extent) -> Extent:
        return Extent(
            before.balls.plus(after.balls),
            before.time_ms.plus(after.time_ms),
            before.fastest_mps.greater(after.fastest_mps),
        )

    @override
    def either(self, ways: Sequence[Extent]) -> Extent:
        worth = ways[0]
        for way in ways[1:]:
            worth = Extent(
                worth.balls.or_(way.balls),
                worth.time_ms.or_(way.time_ms),
                worth.fastest_mps.or_(way.fastest_mps),
            )
        return worth

    @override
    def passes(self, body: Extent, passes: Passes) -> Extent:
        # Any pass may be the gentlest, so the least fastest ball is that of one pass, not of many.
        fastest = body.fastest_mps if passes.least else Reach(0.0, body.fastest_mps.most)
        return Extent(_times(body.balls, passes), _times(body.time_ms, passes), fastest)

    @override
    def any_order(self, items: Sequence[Extent]) -> Extent:
        worth = self.nothing()
        for item in items:
            worth = self.then(worth, item)
        return worth

    @override
    def padded(self, body: Extent, to_ms: int) -> Extent:
        return Extent(body.balls, body.time_ms.greater(Reach(to_ms, to_ms)), body.fastest_mps)

    @override
    def exercise(self, body: Extent, step: Exercise) -> Extent:
        times = Passes.exactly(1 + step.repeats, 0)
        return self.passes(body, times) if self._repeated else body

    @override
    def beside(self, stations: Sequence[tuple[Station, Extent]], for_ms: int) -> Extent:
        every = self.any_order([extent for _, extent in stations])
        return Extent(every.balls, Reach(for_ms, for_ms), every.fastest_mps)


def _times(span: Reach[int], passes: Passes) -> Reach[int]:
    return Reach(span.least * passes.least, span.most * passes.most)


def extent(plan: Plan) -> Extent:
    """What the whole lesson takes."""
    return Fold(plan, Extents(plan)).whole()


def bounds(plan: Plan) -> Bounds:
    """The bounds of a plan (whatever it carries in ``plan.bounds`` is not looked at)."""
    whole = extent(plan)
    again = _repeated(plan)
    return Bounds(
        balls=(whole.balls.least, whole.balls.most),
        time_s=(whole.time_ms.least / 1000.0, whole.time_ms.most / 1000.0),
        fastest_mps=whole.fastest_mps.most,
        fastest_least_mps=whole.fastest_mps.least,
        repeated_balls=None if again is None else again.balls.most + _shown(plan),
        repeated_s=None if again is None else again.time_ms.most / 1000.0,
    )


def _repeated(plan: Plan) -> Extent | None:
    """With every repeat of every exercise used; None where there is no exercise."""
    if not any(isinstance(step, Exercise) for step in plan.steps):
        return None
    return Fold(plan, Extents(plan, repeated=True)).whole()


def _shown(plan: Plan) -> int:
    """Speeds that a jump shows ahead of their step, each once: the step shows it again."""
    return len({step.feed for step in within(plan.steps) if isinstance(step, ShowSpeed)})
