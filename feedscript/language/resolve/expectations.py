"""Expectations with their feeds looked up and their values worked out."""

from __future__ import annotations

import math
from typing import Any

from feedscript.court.landmarks import End, Region
from feedscript.language import program as p
from feedscript.language.parse import tree as t
from feedscript.language.resolve import places
from feedscript.language.resolve.lesson.reader import LessonReader
from feedscript.language.resolve.values import Evaluator
from feedscript.units import Dimension

#: What each measure is measured in, the most it may be, and how it is called.
_MEASURES = {
    p.Measure.BALLS: (Dimension.COUNT, 1e6, "a number of balls"),
    p.Measure.TIME: (Dimension.TIME, 86400.0, "the time of a lesson"),
    p.Measure.FASTEST: (Dimension.SPEED, 100.0, "the fastest ball"),
    p.Measure.REST: (Dimension.RATIO, 1.0, "the share of rest"),
}
_COMPARES = {"\u2264": p.Compare.AT_MOST, "\u2265": p.Compare.AT_LEAST}


class Expectations:
    """Reads the expectations of a file."""

    def __init__(self, evaluator: Evaluator, steps: LessonReader) -> None:
        self.evaluator = evaluator
        self.scope = evaluator.scope
        self.steps = steps

    def read(self, node: Any) -> p.Expectation | None:
        """One expectation; None where it is wrong (reported)."""
        found: p.Expectation | None = _READERS[type(node)](self, node)
        return found

    def _feed(self, subject: t.Subject) -> str | None:
        """The feed's name; None for every feed, and for one that is unknown (reported)."""
        if subject.feed is None:
            return None
        return self.steps.feed(self.evaluator, subject.feed).name or None

    def _value(self, node: Any, dimension: Dimension, low: float, high: float, what: str) -> float:
        return self.evaluator.within(node, dimension, low, high, what)

    def _bound(self, node: t.BoundSyntax) -> p.Bound | None:
        measure = p.Measure(str(node.measure).lower())
        dimension, most, what = _MEASURES[measure]
        value = self._value(node.value, dimension, 0, most, what)
        sign = str(node.compare)
        compare = _COMPARES.get(sign) or p.Compare(sign)
        if math.isnan(value):
            return None
        span = self.scope.span(node)
        return p.Bound(measure=measure, compare=compare, value=value, span=span)

    def _clears(self, node: t.Clears) -> p.ClearsNet | None:
        feed = self._feed(node.subject)
        by_m = self._value(node.by, Dimension.LENGTH, 0, 30, "a height over the net")
        if math.isnan(by_m):
            return None
        return p.ClearsNet(feed=feed, by_m=by_m, aimed=node.aimed, span=self.scope.span(node))

    def _lands(self, node: t.Lands) -> p.LandsWithin | None:
        feed = self._feed(node.subject)
        share = self._value(node.share, Dimension.RATIO, 0, 1, "a share of balls")
        within_m = self._value(node.within, Dimension.LENGTH, 0, 30, "a distance")
        if math.isnan(share) or math.isnan(within_m):
            return None
        span = self.scope.span(node)
        return p.LandsWithin(feed=feed, share=share, within_m=within_m, span=span)

    def _arrives(self, node: t.Arrives) -> p.ArrivesBetween | None:
        feed = self._feed(node.subject)
        low_m = self._value(node.low, Dimension.LENGTH, 0, 30, "a height")
        least = 0.0 if math.isnan(low_m) else low_m
        high_m = self._value(node.high, Dimension.LENGTH, least, 30, "the upper height")
        if math.isnan(low_m) or math.isnan(high_m):
            return None
        span = self.scope.span(node)
        return p.ArrivesBetween(feed=feed, low_m=low_m, high_m=high_m, aimed=node.aimed, span=span)

    def _bounces(self, node: t.Bounces) -> p.BouncesInside | None:
        feed = self._feed(node.subject)
        court = self.steps.feeds.court
        part = t.PlacePart(node.area.start, node.area.end, None, node.area)
        place = t.Place(node.area.start, node.area.end, (part,))
        region: Region | None = places.area(self.evaluator, court, End.RECEIVER, place)
        if region is None:
            return None
        return p.BouncesInside(
            feed=feed, area=node.area.text, outline_m=region.corners_m, span=self.scope.span(node)
        )

    def _gets(self, node: t.Gets) -> p.PlayerGets | None:
        what = "a number of balls"
        low = self.evaluator.whole(node.low, 0, 100000, what) if node.low is not None else 0
        high = self.evaluator.whole(node.high, low or 0, 100000, what)
        if low is None or high is None:
            return None
        return p.PlayerGets(
            low=high if node.low is None else low, high=high, span=self.scope.span(node)
        )

    def _waits(self, node: t.Waits) -> p.PlayerWaits | None:
        most_s = self._value(node.most, Dimension.TIME, 0, 86400, "a wait")
        return (
            None if math.isnan(most_s) else p.PlayerWaits(most_s=most_s, span=self.scope.span(node))
        )

    def _running(self, node: t.RunningSyntax) -> p.Running | None:
        feed = self._feed(node.subject)
        most = self.evaluator.whole(node.most, 1, 100000, "a number of balls")
        return None if most is None else p.Running(feed=feed, most=most, span=self.scope.span(node))


_READERS: dict[type, Any] = {
    t.BoundSyntax: Expectations._bound,
    t.Clears: Expectations._clears,
    t.Lands: Expectations._lands,
    t.Arrives: Expectations._arrives,
    t.Bounces: Expectations._bounces,
    t.Gets: Expectations._gets,
    t.Waits: Expectations._waits,
    t.RunningSyntax: Expectations._running,
}
