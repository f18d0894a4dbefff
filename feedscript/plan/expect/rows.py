"""The longest row of one feed that any run can have at one launcher, exactly.

A segment is summed up by its longest row at the beginning, at the end and anywhere, and by how long
a row can be that fills it: those add up over the tree.
"""

from __future__ import annotations

from collections.abc import Sequence

import msgspec

from feedscript.override import override
from feedscript.plan.folds.fold import Algebra, Fold, Passes
from feedscript.plan.model import Collect, Plan, Rest, Send, ShowSpeed, Station


class _Row(msgspec.Struct, frozen=True, gc=False):
    """Longest rows. ``filled`` None: every run has another ball in it; 0: a run can be empty."""

    filled: int | None
    first: int
    last: int
    best: int


_EMPTY = _Row(0, 0, 0, 0)


class _Rows(Algebra[_Row]):
    """Rows of the feeds in ``family`` among the balls of ``launcher``."""

    def __init__(self, plan: Plan, family: frozenset[int], launcher: int) -> None:
        self.plan, self.family, self.launcher = plan, family, launcher

    @override
    def nothing(self) -> _Row:
        return _EMPTY

    @override
    def send(self, step: Send, feeds: tuple[int, ...]) -> _Row:
        return self.either([self._ball(feed) for feed in feeds])

    @override
    def show_speed(self, step: ShowSpeed) -> _Row:
        return self._ball(step.feed)

    def _ball(self, feed: int) -> _Row:
        if self.plan.feeds[feed].launcher != self.launcher:
            return _EMPTY
        return _Row(1, 1, 1, 1) if feed in self.family else _Row(None, 0, 0, 0)

    @override
    def rest(self, step: Rest) -> _Row:
        return _EMPTY

    @override
    def collect(self, step: Collect) -> _Row:
        return _EMPTY

    @override
    def then(self, before: _Row, after: _Row) -> _Row:
        first, last = before.first, after.last
        if before.filled is not None:
            first = max(first, before.filled + after.first)
        if after.filled is not None:
            last = max(last, before.last + after.filled)
        filled = None
        if before.filled is not None and after.filled is not None:
            filled = before.filled + after.filled
        best = max(before.best, after.best, before.last + after.first)
        return _Row(filled, first, last, best)

    @override
    def either(self, ways: Sequence[_Row]) -> _Row:
        filled = max((way.filled for way in ways if way.filled is not None), default=None)
        return _Row(
            filled,
            max(way.first for way in ways),
            max(way.last for way in ways),
            max(way.best for way in ways),
        )

    @override
    def passes(self, body: _Row, passes: Passes) -> _Row:
        worth, power, left = _EMPTY, body, passes.most
        while left:
            if left % 2:
                worth = self.then(worth, power)
            power, left = self.then(power, power), left // 2
        # Fewer passes, where there may be fewer, make no row longer.
        return worth

    @override
    def any_order(self, items: Sequence[_Row]) -> _Row:
        fills = [item.filled or 0 for item in items]
        whole = sum(fills)
        filled = None if any(item.filled is None for item in items) else whole
        firsts = [item.first + whole - fill for item, fill in zip(items, fills, strict=True)]
        lasts = [item.last + whole - fill for item, fill in zip(items, fills, strict=True)]
        best = max([0, *firsts, *lasts, *(item.best for item in items)])
        # The items whose ends gain most over filling: two of each side are enough.
        ends = sorted(range(len(items)), key=lambda i: lasts[i], reverse=True)[:2]
        starts = sorted(range(len(items)), key=lambda i: firsts[i], reverse=True)[:2]
        for end in ends:
            for start in starts:
                if end != start:
                    best = max(best, lasts[end] + firsts[start] - whole)
        return _Row(filled, max([0, *firsts]), max([0, *lasts]), best)

    @override
    def padded(self, body: _Row, to_ms: int) -> _Row:
        return body

    @override
    def beside(self, stations: Sequence[tuple[Station, _Row]], for_ms: int) -> _Row:
        for station, row in stations:
            if station.launcher == self.launcher:
                return row
        return _EMPTY


def longest_row(plan: Plan, family: frozenset[int]) -> int:
    """How many balls of these feeds can follow each other with no other between."""
    launchers = {plan.feeds[feed].launcher for feed in family}
    return max(
        (Fold(plan, _Rows(plan, family, launcher)).whole().best for launcher in launchers),
        default=0,
    )
