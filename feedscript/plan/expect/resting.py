"""The share of a lesson in which nothing leaves because of a rest, as [least, most].

A share is not a sum, but "the share is at least v" is: rest - v * time >= 0 in every run, and that
adds up over the tree. The least share is the greatest v for which it holds, found by halving. A run
that takes no time has no share and is not looked at. At
stations side by side only the rest that all of them have at their least counts.
"""

from __future__ import annotations

from collections.abc import Sequence

import msgspec

from feedscript.override import override
from feedscript.plan.folds.fold import Algebra, Fold, Passes
from feedscript.plan.model import Collect, Plan, Rest, Send, ShowSpeed, Station
from feedscript.plan.times import milliseconds

_HALVINGS = 24


class _Worth(msgspec.Struct, frozen=True, gc=False):
    """The least of ``rest``, and of rest - v * time, in milliseconds."""

    rest: float
    over: float
    most_ms: int


class _Least(Algebra[_Worth]):
    """With ``sign`` -1 the least of the negatives: the most."""

    def __init__(self, share: float, sign: float) -> None:
        self.share, self.sign = share, sign

    @override
    def nothing(self) -> _Worth:
        return _Worth(0.0, 0.0, 0)

    def _taking(self, rest_ms: int, least_ms: int, most_ms: int) -> _Worth:
        waits = [self.sign * (rest_ms - self.share * length) for length in (least_ms, most_ms)]
        return _Worth(self.sign * rest_ms, min(waits), most_ms)

    @override
    def send(self, step: Send, feeds: tuple[int, ...]) -> _Worth:
        return self._taking(0, *(milliseconds(end) for end in step.after_s))

    @override
    def show_speed(self, step: ShowSpeed) -> _Worth:
        return self.nothing()

    @override
    def rest(self, step: Rest) -> _Worth:
        length = milliseconds(step.seconds)
        return self._taking(length, length, length)

    @override
    def idle(self, ms: int, line: int) -> _Worth:
        return self._taking(0, ms, ms)

    @override
    def collect(self, step: Collect) -> _Worth:
        length = step.break_ms
        return self._taking(length, length, length)

    @override
    def then(self, before: _Worth, after: _Worth) -> _Worth:
        return _Worth(
            before.rest + after.rest, before.over + after.over, before.most_ms + after.most_ms
        )

    @override
    def either(self, ways: Sequence[_Worth]) -> _Worth:
        return _Worth(
            min(way.rest for way in ways),
            min(way.over for way in ways),
            max(way.most_ms for way in ways),
        )

    @override
    def passes(self, body: _Worth, passes: Passes) -> _Worth:
        counts = (passes.least, passes.most)
        return _Worth(
            min(body.rest * count for count in counts),
            min(body.over * count for count in counts),
            body.most_ms * passes.most,
        )

    @override
    def any_order(self, items: Sequence[_Worth]) -> _Worth:
        worth = self.nothing()
        for item in items:
            worth = self.then(worth, item)
        return worth

    @override
    def padded(self, body: _Worth, to_ms: int) -> _Worth:
        length = max(body.most_ms, to_ms)
        return _Worth(body.rest, body.rest - self.sign * self.share * length, length)

    @override
    def beside(self, stations: Sequence[tuple[Station, _Worth]], for_ms: int) -> _Worth:
        # The least of (minus) the smallest rest: with sign -1 that is the greatest of the parts.
        smallest = min if self.sign > 0 else max
        rest = smallest((worth.rest for _, worth in stations), default=0.0)
        return _Worth(rest, rest - self.sign * self.share * for_ms, for_ms)


def rest_share(plan: Plan) -> tuple[float, float]:
    """[least, most]; nothing at all counts as no rest."""
    if Fold(plan, _Least(0.0, 1.0)).whole().most_ms == 0:
        return 0.0, 0.0
    return _end(plan, 1.0), _end(plan, -1.0)


def _end(plan: Plan, sign: float) -> float:
    low, high = 0.0, 1.0
    for _ in range(_HALVINGS):
        middle = (low + high) / 2
        kept = Fold(plan, _Least(middle, sign)).whole().over >= -1e-6
        # At least v holds up to the least share; at most v from the most share on.
        if kept == (sign > 0):
            low = middle
        else:
            high = middle
    return (low + high) / 2
