"""How long a change-over is, on any run: from a ball to the first ball of the turn after it.

As ``pairs`` does for consecutive balls, with two marks: on a ball that is the first of a turn, and
on a ball after which the record is asked before anybody can be called. Stations side by side are
looked at together, since whoever comes to a station may come from any of them. After a collect or
a shown speed, and at the beginning, a person says when to go on; there is no change-over.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import msgspec

from feedscript.override import override
from feedscript.plan.folds.arrivals import arrivals
from feedscript.plan.folds.fold import Fold, Passes
from feedscript.plan.folds.pairs import AT_REST, UNTIMED, Flow, Flows, Head, Tail, later, sooner
from feedscript.plan.model import Plan, ShowSpeed, Station, Turns, Until, When
from feedscript.plan.times import SEEN_AFTER_BOUNCE_S, TAP_S

#: Added to a feed's number: the first ball of a turn; a ball after which the record is asked.
_FIRST = 1 << 30
_ASKED = 1 << 30
#: Added to that first ball so many times: who comes then may come from the grounds of this number.
_FROM = 1 << 12

#: A question to the record is answered at the latest so long after the ball has come down, where
#: somebody is to be called then.
ANSWER_S = SEEN_AFTER_BOUNCE_S + TAP_S


class ChangeOver(msgspec.Struct, frozen=True):
    """``after`` can be the first ball of a turn, ``before`` the last one before it.

    ``least_s`` is the time from the call, when ``before`` has come down and what is asked about it
    is answered, until ``after`` leaves. ``line`` is the step that sends it.
    """

    before: int
    after: int
    least_s: float
    line: int
    #: Grounds from which whoever is on may come, having worked there by themselves.
    grounds: frozenset[str] = frozenset()


class _Asking(Flow, frozen=True, gc=False):
    """A segment that may begin with a question to the record."""

    asks: bool = False


class _Changes(Flows):
    """The flow of all balls; only what meets the first ball of a turn is noted."""

    def __init__(self, plan: Plan) -> None:
        super().__init__(plan, 0)
        self._arrivals = arrivals(plan)
        self.grounds = sorted(set(self._arrivals.values()), key=sorted)

    @override
    def follows(self, launcher: int) -> bool:
        return True

    @override
    def show_speed(self, step: ShowSpeed) -> Flow:
        return Flow(0, None, {UNTIMED: Head(0, step.line)}, {AT_REST: Tail(0, step.line, 0)})

    @override
    def ask(self, step: Until | When) -> Flow:
        return _asking(self.nothing(), True)

    @override
    def then(self, before: Flow, after: Flow) -> Flow:
        if _asks(after):
            before = _asking(
                msgspec.structs.replace(before, last=_marked(before.last)), _asks(before)
            )
        asks = _asks(before) or (before.empty_ms is not None and _asks(after))
        return _asking(super().then(before, after), asks)

    @override
    def either(self, ways: Sequence[Flow]) -> Flow:
        return _asking(super().either(ways), any(map(_asks, ways)))

    @override
    def passes(self, body: Flow, passes: Passes) -> Flow:
        return _asking(super().passes(body, passes), _asks(body))

    @override
    def any_order(self, items: Sequence[Flow]) -> Flow:
        if any(map(_asks, items)):
            items = [msgspec.structs.replace(one, last=_marked(one.last)) for one in items]
        return _asking(super().any_order(items), any(map(_asks, items)))

    @override
    def padded(self, body: Flow, to_ms: int) -> Flow:
        return _asking(super().padded(body, to_ms), _asks(body))

    @override
    def turn(self, body: Flow, step: Turns) -> Flow:
        first = {
            ball if ball < 0 else ball % _FIRST + _FIRST: head for ball, head in body.first.items()
        }
        # What a turn asks as it begins is asked after the call.
        asks = body.empty_ms is not None and _asks(body)
        return _asking(msgspec.structs.replace(body, first=first), asks)

    @override
    def beside(self, stations: Sequence[tuple[Station, Flow]], for_ms: int) -> Flow:
        first: dict[int, Head] = {}
        last: dict[int, Tail] = {}
        for station, flow in stations:
            sooner(first, self._coming(station, flow.first))
            later(last, flow.tails())
        empty = for_ms if all(flow.empty_ms is not None for _, flow in stations) else None
        return _asking(Flow(for_ms, empty, first, last), any(_asks(flow) for _, flow in stations))

    def _coming(self, station: Station, first: Mapping[int, Head]) -> Mapping[int, Head]:
        """The first balls of a station, marked with the grounds from which its players come."""
        grounds = self._arrivals.get(id(station))
        if grounds is None:
            return first
        number = 1 + self.grounds.index(grounds)
        return {
            ball + number * _FROM if ball >= _FIRST else ball: head for ball, head in first.items()
        }

    @override
    def note(self, before: int, after: int, gap_ms: int, before_line: int, line: int) -> None:
        if after >= _FIRST and before != AT_REST:
            super().note(before, after, gap_ms, before_line, line)


def _asks(flow: Flow) -> bool:
    """Whether the record may be asked before any ball of this segment."""
    return isinstance(flow, _Asking) and flow.asks


def _asking(flow: Flow, asks: bool) -> Flow:
    if not asks and not isinstance(flow, _Asking):
        return flow
    return _Asking(flow.most_ms, flow.empty_ms, flow.first, flow.last, flow.past_ms, asks)


def _marked(last: Mapping[int, Tail]) -> dict[int, Tail]:
    """The same balls, and after them the record is asked."""
    found: dict[int, Tail] = {}
    for ball, tail in last.items():
        later(found, {ball if ball < 0 else ball % _ASKED + _ASKED: tail})
    return found


class Meetings(msgspec.Struct, frozen=True):
    """Every ball with the first one of the turn after it, as marked numbers: the least time between
    them in ms, and the line that sends the second. ``grounds``: what the marks count."""

    met: tuple[tuple[int, int, int, int], ...]
    grounds: tuple[frozenset[str], ...]

    def about(self, feed: int) -> Meetings:
        """Those of one feed with any other, and with itself."""
        own = (one for one in self.met if feed in _feeds(one[0], one[1])[:2])
        return msgspec.structs.replace(self, met=tuple(own))


def _feeds(before: int, after: int) -> tuple[int, int, int]:
    """What marked numbers say: both feeds, and the number of the grounds (0: none)."""
    number, second = divmod(after % _FIRST, _FROM)
    return before % _ASKED, second, number


def meetings(plan: Plan) -> Meetings:
    """What follows of change-overs from the steps alone."""
    changes = _Changes(plan)
    start = Flow(0, None, {}, {AT_REST: Tail(0, 0, 0)})
    changes.then(start, Fold(plan, changes).whole())
    met = tuple(
        (before, after, gap_ms, line)
        for (before, after), (gap_ms, _, line) in sorted(changes.met.items())
    )
    return Meetings(met, tuple(changes.grounds))


def change_overs(plan: Plan, of_steps: Meetings | None = None) -> tuple[ChangeOver, ...]:
    """Every change-over that any run can have, by the feed before and the feed after, and by where
    whoever is on then comes from. ``of_steps`` is the plan's :func:`meetings`, where known."""
    meet = meetings(plan) if of_steps is None else of_steps
    found: dict[tuple[int, int, int], ChangeOver] = {}
    for before, after, gap_ms, line in meet.met:
        one, other, number = _feeds(before, after)
        grounds = meet.grounds[number - 1] if number else frozenset[str]()
        called_s = plan.feeds[one].flight_s + (ANSWER_S if before >= _ASKED else 0.0)
        # Rounded, so that a time that fits exactly is not short by what floats leave over.
        least_s = round(gap_ms / 1000.0 - called_s, 9)
        change = ChangeOver(one, other, least_s, line, grounds)
        known = found.get((one, other, number), change)
        found[one, other, number] = min(known, change, key=lambda each: each.least_s)
    return tuple(found.values())
