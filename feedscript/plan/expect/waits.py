"""How long a player can be without a ball or work: the longest time between two, over every run.

Counted from the start of the lesson to the first ball, from ball to ball, and from the last ball
to the end. Work at a station without a launcher is no waiting: what lies before it, between two of
its pieces and after it is. The time that people take is not counted.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

import msgspec

from feedscript.override import override
from feedscript.plan.expect.own_work import worked_ms
from feedscript.plan.folds.fold import Algebra, Passes
from feedscript.plan.folds.player_fold import PlayerFold
from feedscript.plan.model import Collect, Plan, Rest, Send, ShowSpeed, Station
from feedscript.plan.times import milliseconds


class _Wait(msgspec.Struct, frozen=True, gc=False):
    """A segment. All None: it never has a ball of the player; ``empty_ms`` None: it always does.

    ``head`` is the most time before the first ball, ``tail`` after the last, ``gap`` between two;
    ``reached`` the least time up to the last ball; ``most`` the most time of all runs.
    """

    most_ms: int
    empty_ms: int | None
    head_ms: int | None = None
    gap_ms: int | None = None
    tail_ms: int | None = None
    reached_ms: int | None = None
    least_ms: int = 0


def _most(*times: int | None) -> int | None:
    return max((time for time in times if time is not None), default=None)


def _least(*times: int | None) -> int | None:
    return min((time for time in times if time is not None), default=None)


def _plus(one: int | None, other: int | None) -> int | None:
    return None if one is None or other is None else one + other


class _Waits(Algebra[_Wait]):
    """``counts``: whether a ball is one of the player's; ``player``: whose work is no waiting."""

    def __init__(self, counts: bool, player: int) -> None:
        self.counts, self.player = counts, player

    @override
    def nothing(self) -> _Wait:
        return _Wait(0, 0)

    @override
    def send(self, step: Send, feeds: tuple[int, ...]) -> _Wait:
        least, most = (milliseconds(end) for end in step.after_s)
        if not self.counts:
            return _Wait(most, most, least_ms=least)
        return _Wait(most, None, most, None, 0, least, least)

    @override
    def show_speed(self, step: ShowSpeed) -> _Wait:
        return self.nothing()

    @override
    def rest(self, step: Rest) -> _Wait:
        length = milliseconds(step.seconds)
        return _Wait(length, length, least_ms=length)

    @override
    def collect(self, step: Collect) -> _Wait:
        length = step.break_ms
        return _Wait(length, length, least_ms=length)

    @override
    def then(self, before: _Wait, after: _Wait) -> _Wait:
        return _Wait(
            before.most_ms + after.most_ms,
            _plus(before.empty_ms, after.empty_ms),
            _most(before.head_ms, _plus(before.empty_ms, after.head_ms)),
            _most(before.gap_ms, after.gap_ms, _plus(before.tail_ms, after.head_ms)),
            _most(after.tail_ms, _plus(before.tail_ms, after.empty_ms)),
            _least(
                _plus(before.least_ms, after.reached_ms),
                before.reached_ms if after.empty_ms is not None else None,
            ),
            before.least_ms + after.least_ms,
        )

    @override
    def either(self, ways: Sequence[_Wait]) -> _Wait:
        return _Wait(
            max(way.most_ms for way in ways),
            _most(*(way.empty_ms for way in ways)),
            _most(*(way.head_ms for way in ways)),
            _most(*(way.gap_ms for way in ways)),
            _most(*(way.tail_ms for way in ways)),
            _least(*(way.reached_ms for way in ways)),
            min(way.least_ms for way in ways),
        )

    @override
    def passes(self, body: _Wait, passes: Passes) -> _Wait:
        # Waiting is longest over all passes: one after the other, doubling.
        worth, power, left = self.nothing(), body, passes.most
        while left:
            if left % 2:
                worth = self.then(worth, power)
            power, left = self.then(power, power), left // 2
        if passes.least == passes.most:
            return worth
        return msgspec.structs.replace(
            worth, reached_ms=body.reached_ms, least_ms=body.least_ms * passes.least
        )

    @override
    def any_order(self, items: Sequence[_Wait]) -> _Wait:
        # Any other item may come before, between or after: the sums bound every order.
        rest = sum(item.empty_ms or 0 for item in items if item.empty_ms is not None)
        most = sum(item.most_ms for item in items)
        heads = [_plus(item.head_ms, rest - (item.empty_ms or 0)) for item in items]
        tails = [_plus(item.tail_ms, rest - (item.empty_ms or 0)) for item in items]
        between = None
        if sum(item.tail_ms is not None for item in items) > 1:
            between = _plus(_plus(_most(*(i.tail_ms for i in items)), rest), _most(*heads))
        empty: int | None = 0
        for item in items:
            empty = _plus(empty, item.empty_ms)
        return _Wait(
            most,
            empty,
            _most(*heads),
            _most(between, *(item.gap_ms for item in items)),
            _most(*tails),
            _least(*(item.reached_ms for item in items)),
            sum(item.least_ms for item in items),
        )

    @override
    def padded(self, body: _Wait, to_ms: int) -> _Wait:
        tail = None if body.reached_ms is None else max(to_ms, body.most_ms) - body.reached_ms
        empty = None if body.empty_ms is None else max(body.empty_ms, to_ms)
        return _Wait(
            max(body.most_ms, to_ms),
            empty,
            body.head_ms,
            body.gap_ms,
            tail,
            body.reached_ms,
            max(body.least_ms, to_ms),
        )

    @override
    def beside(self, stations: Sequence[tuple[Station, _Wait]], for_ms: int) -> _Wait:
        for station, wait in stations:
            work = worked_ms(station, for_ms) if self.player in station.players else []
            if work:
                return _at_work(work, for_ms)
            if wait.tail_ms is not None:
                return wait
        return _Wait(for_ms, for_ms, least_ms=for_ms)


def _at_work(work: Sequence[tuple[int, int]], for_ms: int) -> _Wait:
    """Stations, at one of which the player works in these times and waits between them."""
    gap = max((begin - end for (_, end), (begin, _) in pairwise(work)), default=None)
    first, last = work[0][0], work[-1][1]
    return _Wait(for_ms, None, first, gap, for_ms - last, last, for_ms)


def longest_wait_s(plan: Plan, player: int) -> float:
    """A bound that no run exceeds; met by one, unless its extremes exclude each other."""
    wait = PlayerFold(plan, player, _Waits(True, player), _Waits(False, player)).whole()
    longest = _most(wait.head_ms, wait.gap_ms, wait.tail_ms, wait.empty_ms)
    return (longest or 0) / 1000.0
