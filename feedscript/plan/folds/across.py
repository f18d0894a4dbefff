"""How soon after one launcher's ball another launcher's can leave, on any run of a plan.

``pairs`` looks at the balls of one launcher; this looks from one launcher to another: at the end
of stations side by side the balls of all of them may still fly when the lesson goes on, and so
before they begin. Each segment of a plan is summed up by how soon after its beginning every ball
can leave, how near to its end, and how long it lasts at least; where two segments meet, balls of
different launchers meet. What is side by side in the same stations is at once whatever the gap,
and stands in ``side_by_side``; it is not listed here.

After a collect, and after a ball whose speed was watched, a person has seen the balls come down.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence

import msgspec

from feedscript.override import override
from feedscript.plan.folds.fold import Algebra, Fold, Passes
from feedscript.plan.model import AimedFeed, Collect, Plan, Rest, Send, ShowSpeed, Station
from feedscript.plan.times import milliseconds

_GRAVITY_MPS2 = 9.81
#: A ball of the scatter that goes higher and longer than its feed stays up so much longer at most.
#: Design value.
_STRAYED_S = 0.5


def down_s(feed: AimedFeed) -> float:
    """How long after it left a ball has surely bounced twice, in seconds.

    A ball that bounces does not rise above its highest point before, so its second flight lasts no
    longer than a throw straight up to there and back: twice sqrt(2 h / g).
    """
    return feed.flight_s + 2.0 * math.sqrt(2.0 * feed.apex_m / _GRAVITY_MPS2) + _STRAYED_S


class Across(msgspec.Struct, frozen=True):
    """``after`` can leave this soon after ``before``, which is another launcher's feed.

    ``line`` is the step that sends ``after`` then. Only gaps in which ``before`` may still fly.
    """

    before: int
    after: int
    least_gap_s: float
    line: int


class _Near(msgspec.Struct, frozen=True, gc=False):
    """How near to an end of a segment a ball may leave, where it is written, and (from the
    beginning) the latest moment at which it can leave."""

    least_ms: int
    line: int
    latest_ms: int = 0


class _Span(msgspec.Struct, frozen=True, gc=False):
    """One segment: its balls from its beginning and from its end, and how long it lasts."""

    least_ms: int
    most_ms: int
    heads: Mapping[int, _Near]
    tails: Mapping[int, _Near]


_NOTHING = _Span(0, 0, {}, {})


def _merged(ways: Iterable[Mapping[int, _Near]]) -> dict[int, _Near]:
    """The nearest of each ball over all of these, and the latest."""
    found: dict[int, _Near] = {}
    for way in ways:
        for ball, near in way.items():
            known = found.get(ball, near)
            nearest = near if near.least_ms < known.least_ms else known
            latest_ms = max(near.latest_ms, known.latest_ms)
            found[ball] = _Near(nearest.least_ms, nearest.line, latest_ms)
    return found


class _Spans(Algebra[_Span]):
    """What meets is noted in ``met``: the least gap in ms and the line, by the two feeds."""

    def __init__(self, plan: Plan) -> None:
        self.launchers = [feed.launcher for feed in plan.feeds]
        self.down_ms = [milliseconds(down_s(feed)) for feed in plan.feeds]
        self.window_ms = max(self.down_ms, default=0)
        self.met: dict[tuple[int, int], tuple[int, int]] = {}

    @override
    def nothing(self) -> _Span:
        return _NOTHING

    @override
    def send(self, step: Send, feeds: tuple[int, ...]) -> _Span:
        least, most = (milliseconds(bound) for bound in step.after_s)
        heads = dict.fromkeys(feeds, _Near(least, step.line))
        return _Span(least, most, heads, dict.fromkeys(feeds, _Near(0, step.line, most)))

    @override
    def show_speed(self, step: ShowSpeed) -> _Span:
        return _Span(self.window_ms, 0, {step.feed: _Near(0, step.line)}, {})

    @override
    def rest(self, step: Rest) -> _Span:
        length = milliseconds(step.seconds)
        return _Span(length, length, {}, {})

    @override
    def collect(self, step: Collect) -> _Span:
        length = step.break_ms
        return _Span(max(self.window_ms, length), length, {}, {})

    @override
    def then(self, before: _Span, after: _Span) -> _Span:
        self._meet(before.tails, after.heads)
        heads = _merged([before.heads, self._later(after.heads, before.least_ms)])
        earlier = self._later(before.tails, after.least_ms)
        tails = _merged([earlier, _reached(after.tails, before.most_ms)])
        return _Span(before.least_ms + after.least_ms, before.most_ms + after.most_ms, heads, tails)

    @override
    def either(self, ways: Sequence[_Span]) -> _Span:
        return _Span(
            min(way.least_ms for way in ways),
            max(way.most_ms for way in ways),
            _merged(way.heads for way in ways),
            _merged(way.tails for way in ways),
        )

    @override
    def passes(self, body: _Span, passes: Passes) -> _Span:
        if passes.most > 1:
            self._meet(body.tails, body.heads)
        past_ms = body.most_ms * (passes.most - 1)
        tails = _reached(body.tails, past_ms)
        return _Span(body.least_ms * passes.least, body.most_ms * passes.most, body.heads, tails)

    @override
    def any_order(self, items: Sequence[_Span]) -> _Span:
        most_ms = sum(item.most_ms for item in items)
        for one, other in _different(items):
            self._meet(one.tails, other.heads)
        return _Span(
            sum(item.least_ms for item in items),
            most_ms,
            _merged(item.heads for item in items),
            _merged(_reached(item.tails, most_ms - item.most_ms) for item in items),
        )

    @override
    def padded(self, body: _Span, to_ms: int) -> _Span:
        tails = {
            ball: _Near(max(near.least_ms, to_ms - near.latest_ms), near.line, near.latest_ms)
            for ball, near in body.tails.items()
        }
        return _Span(max(body.least_ms, to_ms), max(body.most_ms, to_ms), body.heads, tails)

    @override
    def beside(self, stations: Sequence[tuple[Station, _Span]], for_ms: int) -> _Span:
        heads = _merged(span.heads for _, span in stations)
        tails = _merged(span.tails for _, span in stations)
        return _Span(for_ms, for_ms, heads, tails)

    def _later(self, nears: Mapping[int, _Near], by_ms: int) -> dict[int, _Near]:
        """Further from this end by so much; what is too far to matter is left out."""
        return {
            ball: _Near(near.least_ms + by_ms, near.line, near.latest_ms)
            for ball, near in nears.items()
            if near.least_ms + by_ms < self.window_ms
        }

    def _meet(self, tails: Mapping[int, _Near], heads: Mapping[int, _Near]) -> None:
        for before, tail in tails.items():
            for after, head in heads.items():
                gap_ms = tail.least_ms + head.least_ms
                if (
                    self.launchers[before] != self.launchers[after]
                    and gap_ms < self.down_ms[before]
                ):
                    known = self.met.get((before, after))
                    if known is None or gap_ms < known[0]:
                        self.met[before, after] = (gap_ms, head.line)


def _reached(nears: Mapping[int, _Near], past_ms: int) -> dict[int, _Near]:
    """The same after a segment that may take so long."""
    return {
        ball: _Near(near.least_ms, near.line, near.latest_ms + past_ms)
        for ball, near in nears.items()
    }


def _different(items: Sequence[_Span]) -> Iterable[tuple[_Span, _Span]]:
    """Two summaries of items for every item: its own, and that of all others."""
    before = [_NOTHING, *_running(items)]
    after = [_NOTHING, *_running(items[::-1])][::-1]
    for number, item in enumerate(items):
        for others in (before[number], after[number + 1]):
            yield item, others


def _running(items: Sequence[_Span]) -> list[_Span]:
    """After each item, the nearest balls of all up to it."""
    found: list[_Span] = []
    for item in items:
        last = found[-1] if found else _NOTHING
        found.append(
            _Span(0, 0, _merged([last.heads, item.heads]), _merged([last.tails, item.tails]))
        )
    return found


def across(plan: Plan) -> tuple[Across, ...]:
    """Every such pair with its least gap, by the feed before and the feed after."""
    if len(plan.launchers) < 2:
        return ()
    spans = _Spans(plan)
    Fold(plan, spans).whole()
    return tuple(
        Across(before, after, gap_ms / 1000.0, line)
        for (before, after), (gap_ms, line) in sorted(spans.met.items())
    )
