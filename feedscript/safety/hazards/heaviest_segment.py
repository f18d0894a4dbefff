"""The heaviest segment between two cuts, on any run of the plan.

What a step weighs, and which steps cut, is the analysis's choice: balls between two collects,
seconds between two rests.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from functools import reduce

import msgspec

from feedscript.override import override
from feedscript.plan.folds.fold import Algebra, Context, Fold, Passes
from feedscript.plan.model import Collect, Plan, Rest, Send, ShowSpeed, Station
from feedscript.plan.scene import kind_fed, left_handed

#: No path of this kind exists.
NONE = -math.inf


class Segment(msgspec.Struct, frozen=True):
    """Greatest weights over every path through some steps, by where the cuts lie.

    ``through``: on paths without a cut. ``before``: up to the first cut, on paths that have one.
    ``after``: from the last cut on. ``most``: between any two cuts or ends.
    """

    through: float
    before: float
    after: float
    most: float


EMPTY = Segment(0, NONE, NONE, 0)
CUT = Segment(NONE, 0, 0, 0)


def weighing(weight: float) -> Segment:
    """A step of that weight, without a cut."""
    return Segment(weight, NONE, NONE, weight)


class Segments(Algebra[Segment]):
    """How segments combine; what the leaves weigh is for a subclass to say."""

    @override
    def nothing(self) -> Segment:
        return EMPTY

    @override
    def send(self, step: Send, feeds: tuple[int, ...]) -> Segment:
        return EMPTY

    @override
    def show_speed(self, step: ShowSpeed) -> Segment:
        return EMPTY

    @override
    def rest(self, step: Rest) -> Segment:
        return EMPTY

    @override
    def collect(self, step: Collect) -> Segment:
        return CUT

    @override
    def then(self, before: Segment, after: Segment) -> Segment:
        through = before.through + after.through
        first = max(before.before, before.through + after.before)
        last = max(after.after, before.after + after.through)
        joint = before.after + after.before
        most = max(before.most, after.most, through, first, last, joint)
        return Segment(through, first, last, most)

    @override
    def either(self, ways: Sequence[Segment]) -> Segment:
        return Segment(
            through=max(way.through for way in ways),
            before=max(way.before for way in ways),
            after=max(way.after for way in ways),
            most=max(way.most for way in ways),
        )

    @override
    def passes(self, body: Segment, passes: Passes) -> Segment:
        return self.either([self._power(body, passes.least), self._power(body, passes.most)])

    def _power(self, body: Segment, times: int) -> Segment:
        """So many passes, by doubling: the work grows with the number's digits."""
        result, square = EMPTY, body
        while times > 0:
            if times & 1:
                result = self.then(result, square)
            times >>= 1
            if times:
                square = self.then(square, square)
        return result

    @override
    def any_order(self, items: Sequence[Segment]) -> Segment:
        # Every order may come: any item first, any last, and all that never cut in between.
        free = sum(_counted(item) for item in items)
        before = [item.before + free - _counted(item) for item in items]
        after = [item.after + free - _counted(item) for item in items]
        through = sum(item.through for item in items)
        joint = free + _best_two(
            [item.after - _counted(item) for item in items],
            [item.before - _counted(item) for item in items],
        )
        first, last = max(before, default=NONE), max(after, default=NONE)
        most = max([item.most for item in items] + [through, first, last, free, joint])
        return Segment(through, first, last, most)

    @override
    def padded(self, body: Segment, to_ms: int) -> Segment:
        return body

    @override
    def beside(
        self,
        stations: Sequence[tuple[Station, Segment]],
        for_ms: int,
    ) -> Segment:
        return reduce(self.then, [body for _, body in stations], EMPTY)


def heaviest_line(plan: Plan, algebra: Segments) -> int:
    """The line of the lesson's step in which the heaviest segment lies, or most of it does."""
    fold = Fold(plan, algebra)
    players = plan.group.players
    context = Context(left_handed(players), 0, kind_fed(players))
    return max(plan.steps, key=lambda step: fold.step(step, context).most).line


def _counted(item: Segment) -> float:
    """What an item adds where it is passed without a cut; nothing if it always cuts."""
    return max(item.through, 0)


def _best_two(first: Sequence[float], second: Sequence[float]) -> float:
    """The greatest sum of one of each, never both from the same place; linear in their number."""
    best, best_first, best_second = NONE, NONE, NONE
    for one, other in zip(first, second, strict=True):
        best = max(best, one + best_second, best_first + other)
        best_first, best_second = max(best_first, one), max(best_second, other)
    return best
