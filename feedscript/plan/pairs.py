"""The exact set of consecutive feeds that any run can produce, each with its least gap.

As a compiler composes first and last sets over a grammar, each stretch of a plan is summed up, for
one launcher, by which ball can come first and how soon, which can come last and how soon after it
the stretch can end, and whether the stretch can pass without any ball. Where two stretches meet,
every last meets every first. The work grows linearly with the steps and the pairs that meet.

A launcher at rest stands for the ball before the first: at the start of the lesson and after each
collect. A ball whose speed is shown leaves at a person's pace, so nothing is asked of the gap
before it; the ball after it follows it as after any other.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import msgspec

from feedscript.plan.fold import Algebra, Fold, Passes
from feedscript.plan.model import Collect, Plan, Rest, Send, ShowSpeed, Station
from feedscript.plan.times import milliseconds

#: Stand in the sets for what is not a feed: the launcher at rest, a ball at a person's pace.
_AT_REST = -1
_UNTIMED = -2


class Pair(msgspec.Struct, frozen=True):
    """``after`` can be the next ball of its launcher after ``before`` (null: after rest).

    ``line`` and ``before_line`` are the steps that send them with ``least_gap_s`` between.
    """

    launcher: int
    before: int | None
    after: int
    least_gap_s: float
    before_line: int
    line: int


class _Head(msgspec.Struct, frozen=True, gc=False):
    """How soon after the beginning a ball can be the first, and where it is written."""

    least_ms: int
    line: int


class _Tail(msgspec.Struct, frozen=True, gc=False):
    """A ball that can be the last: the least time from it to the end, the most up to it."""

    least_ms: int
    line: int
    reached_ms: int


class _Flow(msgspec.Struct, frozen=True, gc=False):
    """One stretch. ``empty_ms``: its least time without a ball; None if it always has one.

    ``past_ms`` is to be added to the tails: a rest after many possible last balls costs nothing.
    """

    most_ms: int
    empty_ms: int | None
    first: Mapping[int, _Head]
    last: Mapping[int, _Tail]
    past_ms: int = 0

    def tails(self) -> dict[int, _Tail]:
        past = self.past_ms
        return {
            ball: _Tail(tail.least_ms + past, tail.line, tail.reached_ms) if past else tail
            for ball, tail in self.last.items()
        }


_NOTHING = _Flow(0, 0, {}, {})


def _sooner(into: dict[int, _Head], more: Mapping[int, _Head], later_ms: int = 0) -> None:
    for ball, head in more.items():
        known = into.get(ball)
        least = head.least_ms + later_ms
        if known is None or least < known.least_ms:
            into[ball] = _Head(least, head.line)


def _later(into: dict[int, _Tail], more: Mapping[int, _Tail], after_ms: int = 0) -> None:
    for ball, tail in more.items():
        known = into.get(ball)
        reached = tail.reached_ms + after_ms
        if known is None:
            into[ball] = _Tail(tail.least_ms, tail.line, reached)
            continue
        soonest = tail if tail.least_ms < known.least_ms else known
        into[ball] = _Tail(soonest.least_ms, soonest.line, max(reached, known.reached_ms))


class _Flows(Algebra[_Flow]):
    """The flow of one launcher's balls; what meets is noted in ``met``.

    With ``most`` no more than about so many meetings are noted, however many there are.
    """

    def __init__(self, plan: Plan, launcher: int, most: int | None = None) -> None:
        self.plan, self.launcher = plan, launcher
        self.most, self.noted = most, 0
        self.met: dict[tuple[int, int], tuple[int, int, int]] = {}

    def nothing(self) -> _Flow:
        return _NOTHING

    def send(self, step: Send, feeds: tuple[int, ...]) -> _Flow:
        least, most = (milliseconds(bound) for bound in step.after_s)
        if self.plan.feeds[feeds[0]].launcher != self.launcher:
            return _Flow(most, least, {}, {})
        first = dict.fromkeys(feeds, _Head(least, step.line))
        return _Flow(most, None, first, dict.fromkeys(feeds, _Tail(0, step.line, most)))

    def show_speed(self, step: ShowSpeed) -> _Flow:
        if self.plan.feeds[step.feed].launcher != self.launcher:
            return _NOTHING
        untimed = {_UNTIMED: _Head(0, step.line)}
        return _Flow(0, None, untimed, {step.feed: _Tail(0, step.line, 0)})

    def rest(self, step: Rest) -> _Flow:
        length = milliseconds(step.seconds)
        return _Flow(length, length, {}, {})

    def collect(self, step: Collect) -> _Flow:
        untimed = {_UNTIMED: _Head(0, step.line)}
        return _Flow(0, None, untimed, {_AT_REST: _Tail(0, step.line, 0)})

    def then(self, before: _Flow, after: _Flow) -> _Flow:
        if not after.last and after.empty_ms is not None:
            return self._pause(before, after.most_ms, after.empty_ms)
        self._meet(before, after.first)
        first: Mapping[int, _Head] = before.first
        if before.empty_ms is not None:
            heads = dict(before.first)
            _sooner(heads, after.first, before.empty_ms)
            first = heads
        last: dict[int, _Tail] = {}
        if after.empty_ms is not None:
            past = before.past_ms + after.empty_ms
            for ball, tail in before.last.items():
                last[ball] = _Tail(tail.least_ms + past, tail.line, tail.reached_ms)
        _later(last, after.tails(), before.most_ms)
        return _Flow(
            before.most_ms + after.most_ms, _sum(before.empty_ms, after.empty_ms), first, last
        )

    def _pause(self, before: _Flow, most_ms: int, least_ms: int) -> _Flow:
        return _Flow(
            before.most_ms + most_ms,
            _sum(before.empty_ms, least_ms),
            before.first,
            before.last,
            before.past_ms + least_ms,
        )

    def either(self, ways: Sequence[_Flow]) -> _Flow:
        if len(ways) == 1:
            return ways[0]
        first: dict[int, _Head] = {}
        last: dict[int, _Tail] = {}
        for way in ways:
            _sooner(first, way.first)
            _later(last, way.tails())
        empties = [way.empty_ms for way in ways if way.empty_ms is not None]
        most = max(way.most_ms for way in ways)
        return _Flow(most, min(empties, default=None), first, last)

    def passes(self, body: _Flow, passes: Passes) -> _Flow:
        if passes.most > 1:
            self._meet(body, body.first)
        empty = body.empty_ms
        if empty is not None:
            own = passes.launcher == self.launcher
            empty *= passes.ballless if own else passes.least
        last: dict[int, _Tail] = {}
        _later(last, body.tails(), body.most_ms * (passes.most - 1))
        return _Flow(body.most_ms * passes.most, empty, body.first, last)

    def any_order(self, items: Sequence[_Flow]) -> _Flow:
        self._meet_others(items)
        most = sum(item.most_ms for item in items)
        first: dict[int, _Head] = {}
        last: dict[int, _Tail] = {}
        empty: int | None = 0
        for item in items:
            _sooner(first, item.first)
            _later(last, item.tails(), most - item.most_ms)
            empty = _sum(empty, item.empty_ms)
        return _Flow(most, empty, first, last)

    def padded(self, body: _Flow, to_ms: int) -> _Flow:
        # A stretch of fixed length leaves after a ball what the way to that ball has not used.
        last = {
            ball: _Tail(max(tail.least_ms, to_ms - tail.reached_ms), tail.line, tail.reached_ms)
            for ball, tail in body.tails().items()
        }
        empty = None if body.empty_ms is None else max(body.empty_ms, to_ms)
        return _Flow(max(body.most_ms, to_ms), empty, body.first, last)

    def beside(self, stations: Sequence[tuple[Station, _Flow]], for_ms: int) -> _Flow:
        for station, flow in stations:
            if station.launcher == self.launcher:
                return flow
        return _Flow(for_ms, for_ms, {}, {})

    def _meet(self, before: _Flow, first: Mapping[int, _Head]) -> None:
        """Note every last ball of ``before`` with every first one, and their least gap."""
        timed = [(ball, head) for ball, head in first.items() if ball != _UNTIMED]
        if not timed or self._enough(len(before.last) * len(timed)):
            return
        for ball, tail in before.last.items():
            past = tail.least_ms + before.past_ms
            for after, head in timed:
                self._note(ball, after, past + head.least_ms, tail.line, head.line)

    def _enough(self, more: int) -> bool:
        """Count meetings; whether there are more of them than are wanted."""
        self.noted += more
        return self.most is not None and self.noted > self.most

    def _note(self, before: int, after: int, gap_ms: int, before_line: int, line: int) -> None:
        known = self.met.get((before, after))
        if known is None or gap_ms < known[0]:
            self.met[before, after] = (gap_ms, before_line, line)

    def _meet_others(self, items: Sequence[_Flow]) -> None:
        """Note every last ball of an item with every first one of another item.

        For each ball the two items where it is nearest are enough: one of them is another item
        than the one it meets. So the work grows with the pairs of balls, not of items.
        """
        ends: dict[int, list[tuple[int, int, int]]] = {}
        starts: dict[int, list[tuple[int, int, int]]] = {}
        for number, item in enumerate(items):
            for ball, tail in item.tails().items():
                ends.setdefault(ball, []).append((tail.least_ms, number, tail.line))
            for ball, head in item.first.items():
                if ball != _UNTIMED:
                    starts.setdefault(ball, []).append((head.least_ms, number, head.line))
        if self._enough(len(ends) * len(starts)):
            return
        near_starts = {ball: sorted(found)[:2] for ball, found in starts.items()}
        for ball, found in ends.items():
            for tail_ms, number, tail_line in sorted(found)[:2]:
                for after, nearest in near_starts.items():
                    for head_ms, other, line in nearest:
                        if other != number:
                            self._note(ball, after, tail_ms + head_ms, tail_line, line)


def _sum(one: int | None, other: int | None) -> int | None:
    return None if one is None or other is None else one + other


def meetings(plan: Plan, most: int) -> int:
    """How often, as written, one ball can follow another; counted no further than past ``most``."""
    count = 0
    for launcher in range(len(plan.launchers)):
        flows = _Flows(plan, launcher, most)
        Fold(plan, flows).whole()
        count += flows.noted
    return count


def pairs(plan: Plan) -> tuple[Pair, ...]:
    """Every pair, by launcher, ball before (rest first) and ball after."""
    found: list[Pair] = []
    for launcher in range(len(plan.launchers)):
        flows = _Flows(plan, launcher)
        start = _Flow(0, None, {}, {_AT_REST: _Tail(0, 0, 0)})
        flows.then(start, Fold(plan, flows).whole())
        for (before, after), (gap_ms, before_line, line) in sorted(flows.met.items()):
            ball = None if before == _AT_REST else before
            found.append(Pair(launcher, ball, after, gap_ms / 1000.0, before_line, line))
    return tuple(found)
