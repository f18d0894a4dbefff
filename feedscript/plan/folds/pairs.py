"""The exact set of consecutive feeds that any run can produce, each with its least gap.

As a compiler composes first and last sets over a grammar, each segment of a plan is summed up, for
one launcher, by which ball can come first and how soon, which can come last and how soon after it
the segment can end, and whether the segment can pass without any ball. Where two segments meet,
every last meets every first. The work grows linearly with the steps and the pairs that meet.

A launcher at rest stands for the ball before the first: at the start of the lesson and after each
collect. A ball whose speed is shown leaves at a person's pace, so nothing is asked of the gap
before it; the ball after it follows it as after any other.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import msgspec

from feedscript.override import override
from feedscript.plan.bodies import within
from feedscript.plan.folds.fold import Algebra, Fold, Passes
from feedscript.plan.model import (
    Choose,
    Collect,
    Exercise,
    Option,
    Plan,
    Rest,
    Send,
    ShowSpeed,
    Station,
    Step,
)
from feedscript.plan.times import milliseconds

#: Stand in the sets for what is not a feed: the launcher at rest, a ball at a person's pace.
AT_REST = -1
UNTIMED = -2


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


class Head(msgspec.Struct, frozen=True, gc=False):
    """How soon after the beginning a ball can be the first, and where it is written."""

    least_ms: int
    line: int


class Tail(msgspec.Struct, frozen=True, gc=False):
    """A ball that can be the last: the least time from it to the end, the most up to it."""

    least_ms: int
    line: int
    reached_ms: int


class Flow(msgspec.Struct, frozen=True, gc=False):
    """One segment. ``empty_ms``: its least time without a ball; None if it always has one.

    ``past_ms`` is to be added to the tails: a rest after many possible last balls costs nothing.
    """

    most_ms: int
    empty_ms: int | None
    first: Mapping[int, Head]
    last: Mapping[int, Tail]
    past_ms: int = 0

    def tails(self) -> dict[int, Tail]:
        past = self.past_ms
        return {
            ball: Tail(tail.least_ms + past, tail.line, tail.reached_ms) if past else tail
            for ball, tail in self.last.items()
        }


_NOTHING = Flow(0, 0, {}, {})


def sooner(into: dict[int, Head], more: Mapping[int, Head], later_ms: int = 0) -> None:
    for ball, head in more.items():
        known = into.get(ball)
        least = head.least_ms + later_ms
        if known is None or least < known.least_ms:
            into[ball] = Head(least, head.line)


def later(into: dict[int, Tail], more: Mapping[int, Tail], after_ms: int = 0) -> None:
    for ball, tail in more.items():
        known = into.get(ball)
        reached = tail.reached_ms + after_ms
        if known is None:
            into[ball] = Tail(tail.least_ms, tail.line, reached)
            continue
        soonest = tail if tail.least_ms < known.least_ms else known
        into[ball] = Tail(soonest.least_ms, soonest.line, max(reached, known.reached_ms))


class Flows(Algebra[Flow]):
    """The flow of one launcher's balls; what meets is noted in ``met``.

    With ``most`` no more than about so many meetings are noted, however many there are.
    """

    def __init__(self, plan: Plan, launcher: int, most: int | None = None) -> None:
        self.plan, self.launcher = plan, launcher
        self.most, self.noted = most, 0
        self.met: dict[tuple[int, int], tuple[int, int, int]] = {}

    def follows(self, launcher: int) -> bool:
        """Whether this launcher's balls are looked at; another's are only time."""
        return launcher == self.launcher

    @override
    def nothing(self) -> Flow:
        return _NOTHING

    @override
    def send(self, step: Send, feeds: tuple[int, ...]) -> Flow:
        least, most = (milliseconds(bound) for bound in step.after_s)
        if not self.follows(self.plan.feeds[feeds[0]].launcher):
            return Flow(most, least, {}, {})
        first = dict.fromkeys(feeds, Head(least, step.line))
        return Flow(most, None, first, dict.fromkeys(feeds, Tail(0, step.line, most)))

    @override
    def show_speed(self, step: ShowSpeed) -> Flow:
        if not self.follows(self.plan.feeds[step.feed].launcher):
            return _NOTHING
        untimed = {UNTIMED: Head(0, step.line)}
        return Flow(0, None, untimed, {step.feed: Tail(0, step.line, 0)})

    @override
    def rest(self, step: Rest) -> Flow:
        length = milliseconds(step.seconds)
        return Flow(length, length, {}, {})

    @override
    def collect(self, step: Collect) -> Flow:
        untimed, length = {UNTIMED: Head(0, step.line)}, step.break_ms
        return Flow(length, None, untimed, {AT_REST: Tail(0, step.line, length)})

    @override
    def then(self, before: Flow, after: Flow) -> Flow:
        if not after.last and after.empty_ms is not None:
            return self._pause(before, after.most_ms, after.empty_ms)
        self.meet(before, after.first)
        first: Mapping[int, Head] = before.first
        if before.empty_ms is not None:
            heads = dict(before.first)
            sooner(heads, after.first, before.empty_ms)
            first = heads
        last: dict[int, Tail] = {}
        if after.empty_ms is not None:
            past = before.past_ms + after.empty_ms
            for ball, tail in before.last.items():
                last[ball] = Tail(tail.least_ms + past, tail.line, tail.reached_ms)
        later(last, after.tails(), before.most_ms)
        return Flow(
            before.most_ms + after.most_ms, _sum(before.empty_ms, after.empty_ms), first, last
        )

    def _pause(self, before: Flow, most_ms: int, least_ms: int) -> Flow:
        return Flow(
            before.most_ms + most_ms,
            _sum(before.empty_ms, least_ms),
            before.first,
            before.last,
            before.past_ms + least_ms,
        )

    @override
    def either(self, ways: Sequence[Flow]) -> Flow:
        if len(ways) == 1:
            return ways[0]
        first: dict[int, Head] = {}
        last: dict[int, Tail] = {}
        for way in ways:
            sooner(first, way.first)
            later(last, way.tails())
        empties = [way.empty_ms for way in ways if way.empty_ms is not None]
        most = max(way.most_ms for way in ways)
        return Flow(most, min(empties, default=None), first, last)

    @override
    def passes(self, body: Flow, passes: Passes) -> Flow:
        if passes.most > 1:
            self.meet(body, body.first)
        empty = body.empty_ms
        if empty is not None:
            empty *= passes.ballless if self.follows(passes.launcher) else passes.least
        last: dict[int, Tail] = {}
        later(last, body.tails(), body.most_ms * (passes.most - 1))
        return Flow(body.most_ms * passes.most, empty, body.first, last)

    @override
    def any_order(self, items: Sequence[Flow]) -> Flow:
        self._meet_others(items)
        most = sum(item.most_ms for item in items)
        first: dict[int, Head] = {}
        last: dict[int, Tail] = {}
        empty: int | None = 0
        for item in items:
            sooner(first, item.first)
            later(last, item.tails(), most - item.most_ms)
            empty = _sum(empty, item.empty_ms)
        return Flow(most, empty, first, last)

    @override
    def padded(self, body: Flow, to_ms: int) -> Flow:
        # A segment of fixed length leaves after a ball what the way to that ball has not used.
        last = {
            ball: Tail(max(tail.least_ms, to_ms - tail.reached_ms), tail.line, tail.reached_ms)
            for ball, tail in body.tails().items()
        }
        empty = None if body.empty_ms is None else max(body.empty_ms, to_ms)
        return Flow(max(body.most_ms, to_ms), empty, body.first, last)

    @override
    def beside(self, stations: Sequence[tuple[Station, Flow]], for_ms: int) -> Flow:
        for station, flow in stations:
            if station.launcher == self.launcher:
                return flow
        return Flow(for_ms, for_ms, {}, {})

    def meet(self, before: Flow, first: Mapping[int, Head]) -> None:
        """Note every last ball of ``before`` with every first one, and their least gap."""
        timed = [(ball, head) for ball, head in first.items() if ball != UNTIMED]
        if not timed or self._enough(len(before.last) * len(timed)):
            return
        for ball, tail in before.last.items():
            past = tail.least_ms + before.past_ms
            for after, head in timed:
                self.note(ball, after, past + head.least_ms, tail.line, head.line)

    def _enough(self, more: int) -> bool:
        """Count meetings; whether there are more of them than are wanted."""
        self.noted += more
        return self.most is not None and self.noted > self.most

    def note(self, before: int, after: int, gap_ms: int, before_line: int, line: int) -> None:
        known = self.met.get((before, after))
        if known is None or gap_ms < known[0]:
            self.met[before, after] = (gap_ms, before_line, line)

    def _meet_others(self, items: Sequence[Flow]) -> None:
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
                if ball != UNTIMED:
                    starts.setdefault(ball, []).append((head.least_ms, number, head.line))
        if self._enough(len(ends) * len(starts)):
            return
        near_starts = {ball: sorted(found)[:2] for ball, found in starts.items()}
        for ball, found in ends.items():
            for tail_ms, number, tail_line in sorted(found)[:2]:
                for after, nearest in near_starts.items():
                    for head_ms, other, line in nearest:
                        if other != number:
                            self.note(ball, after, tail_ms + head_ms, tail_line, line)


def _sum(one: int | None, other: int | None) -> int | None:
    return None if one is None or other is None else one + other


def meetings(plan: Plan, most: int) -> int:
    """How often, as written, one ball can follow another; counted no further than past ``most``."""
    count = 0
    for launcher in range(len(plan.launchers)):
        flows = Flows(plan, launcher, most)
        Fold(plan, flows).whole()
        count += flows.noted
    return count


def with_seams(plan: Plan) -> Plan:
    """A plan with exercises as a person may jump in it: before each of its steps there may be a
    collect, and what comes then follows from rest, or a speed that had still to be shown."""
    if not any(isinstance(step, Exercise) for step in plan.steps):
        return plan
    steps: list[Step] = []
    shown: dict[int, ShowSpeed] = {}
    for step in plan.steps:
        steps += [_seam(step.line, tuple(shown.values())), step]
        shown.update((one.feed, one) for one in within((step,)) if isinstance(one, ShowSpeed))
    return msgspec.structs.replace(plan, steps=tuple(steps))


def _seam(line: int, shown: tuple[ShowSpeed, ...]) -> Step:
    collect = Collect(line=line)
    ways: tuple[tuple[Step, ...], ...] = ((), (collect,), *((collect, one) for one in shown))
    return Choose(options=tuple(Option(weight=1, body=way) for way in ways), line=line)


def pairs(plan: Plan) -> tuple[Pair, ...]:
    """Every pair, by launcher, ball before (rest first) and ball after."""
    every = range(len(plan.launchers))
    return tuple(pair for launcher in every for pair in pairs_of(plan, launcher))


def pairs_of(plan: Plan, launcher: int) -> tuple[Pair, ...]:
    """Every pair of one launcher's balls."""
    flows = Flows(plan, launcher)
    start = Flow(0, None, {}, {AT_REST: Tail(0, 0, 0)})
    flows.then(start, Fold(with_seams(plan), flows).whole())
    return tuple(
        Pair(
            launcher,
            None if before == AT_REST else before,
            after,
            gap_ms / 1000.0,
            before_line,
            line,
        )
        for (before, after), (gap_ms, before_line, line) in sorted(flows.met.items())
    )
