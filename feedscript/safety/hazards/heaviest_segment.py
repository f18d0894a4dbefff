"""The heaviest stretch between two cuts, on any run of the plan.

What a step weighs, and which steps cut, is the analysis's choice: balls between two collects,
seconds between two rests.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from functools import reduce

import msgspec

from feedscript.plan.folds.fold import Algebra, Context, Fold, Passes
from feedscript.plan.model import Collect, Plan, Rest, Send, ShowSpeed, Station
from feedscript.plan.scene import left_handed

#: No path of this kind exists.
NONE = -math.inf


class Stretch(msgspec.Struct, frozen=True):
    """Greatest weights over every path through some steps, by where the cuts lie.

    ``through``: on paths without a cut. ``before``: up to the first cut, on paths that have one.
    ``after``: from the last cut on. ``most``: between any two cuts or ends.
    """

    through: float
    before: float
    after: float
    most: float


EMPTY = Stretch(0, NONE, NONE, 0)
CUT = Stretch(NONE, 0, 0, 0)


def weighing(weight: float) -> Stretch:
    """A step of that weight, without a cut."""
    return Stretch(weight, NONE, NONE, weight)


class Stretches(Algebra[Stretch]):
    """How stretches combine; what the leaves weigh is for a subclass to say."""

    def nothing(self) -> Stretch:
        return EMPTY

    def send(self, step: Send, feeds: tuple[int, ...]) -> Stretch:  # noqa: ARG002
        return EMPTY

    def show_speed(self, step: ShowSpeed) -> Stretch:  # noqa: ARG002
        return EMPTY

    def rest(self, step: Rest) -> Stretch:  # noqa: ARG002
        return EMPTY

    def collect(self, step: Collect) -> Stretch:  # noqa: ARG002
        return CUT

    def then(self, before: Stretch, after: Stretch) -> Stretch:
        through = before.through + after.through
        first = max(before.before, before.through + after.before)
        last = max(after.after, before.after + after.through)
        joint = before.after + after.before
        most = max(before.most, after.most, through, first, last, joint)
        return Stretch(through, first, last, most)

    def either(self, ways: Sequence[Stretch]) -> Stretch:
        return Stretch(
            through=max(way.through for way in ways),
            before=max(way.before for way in ways),
            after=max(way.after for way in ways),
            most=max(way.most for way in ways),
        )

    def passes(self, body: Stretch, passes: Passes) -> Stretch:
        return self.either([self._power(body, passes.least), self._power(body, passes.most)])

    def _power(self, body: Stretch, times: int) -> Stretch:
        """So many passes, by doubling: the work grows with the number's digits."""
        result, square = EMPTY, body
        while times > 0:
            if times & 1:
                result = self.then(result, square)
            times >>= 1
            if times:
                square = self.then(square, square)
        return result

    def any_order(self, items: Sequence[Stretch]) -> Stretch:
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
        return Stretch(through, first, last, most)

    def padded(self, body: Stretch, to_ms: int) -> Stretch:  # noqa: ARG002
        return body

    def beside(
        self,
        stations: Sequence[tuple[Station, Stretch]],
        for_ms: int,  # noqa: ARG002
    ) -> Stretch:
        return reduce(self.then, [body for _, body in stations], EMPTY)


def heaviest_line(plan: Plan, algebra: Stretches) -> int:
    """The line of the lesson's step in which the heaviest stretch lies, or most of it does."""
    fold = Fold(plan, algebra)
    context = Context(left_handed(plan.group.players), 0)
    return max(plan.steps, key=lambda step: fold.step(step, context).most).line


def _counted(item: Stretch) -> float:
    """What an item adds where it is passed without a cut; nothing if it always cuts."""
    return max(item.through, 0)


def _best_two(first: Sequence[float], second: Sequence[float]) -> float:
    """The greatest sum of one of each, never both from the same place; linear in their number."""
    best, best_first, best_second = NONE, NONE, NONE
    for one, other in zip(first, second, strict=True):
        best = max(best, one + best_second, best_first + other)
        best_first, best_second = max(best_first, one), max(best_second, other)
    return best
