"""Rules that hold one number of every feed inside a range of its launcher's profile."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from math import ceil, floor

import msgspec

from feedscript.diagnostics import Page
from feedscript.launcher.profile.model import Limits, Range
from feedscript.plan.model import AimedFeed
from feedscript.safety.analysis.measurement import Measurement, finding, within
from feedscript.safety.analysis.plan_facts import PlanFacts
from feedscript.safety.analysis.rule import Finding, Rule
from feedscript.units import apart


class ProfileRange(msgspec.Struct, frozen=True):
    """Which number of a feed, which range of the profile, and the words for both."""

    page: Page
    value: Callable[[AimedFeed], float]
    range: Callable[[Limits], Range]
    verb: str  # "leaves at"
    unit: str
    part: str
    fix: str  # what to change; the range is added
    digits: int = 1
    #: The unit that programs are written in where it is not the certificate's, and how many of it
    #: make one of the certificate's.
    written: tuple[str, float] | None = None

    def rule(self) -> Rule:
        """The rule; never waivable, since no reason makes a launcher do what it cannot."""
        return Rule(
            page=self.page,
            assumption="the profile's limits are true of the launcher on court",
            source="the launcher's profile",
            find=self.find,
        )

    def find(self, facts: PlanFacts) -> Finding:
        measurements = facts.of_feeds(self.page.slug, partial(self._measurement, facts))
        return finding(measurements, "the plan has no feeds")

    def _measurement(self, facts: PlanFacts, index: int) -> Measurement:
        feed = facts.plan.feeds[index]
        allowed = self.range(facts.profile(feed).limits)
        value = self.value(feed)
        limit, margin = within(value, allowed.least, allowed.most)
        words = f"{feed.name} {self.verb} {value:.{self.digits}f} {self.unit}"
        unit, scale = self.written or (self.unit, 1.0)
        span = (
            f"{self._written(allowed.least, ceil)} to {self._written(allowed.most, floor)} {unit}"
        )
        told = apart(value * scale, limit * scale, self.digits)[0]
        return Measurement(
            value=value,
            limit=limit,
            margin=margin,
            unit=self.unit,
            words=words,
            message=f"{feed.name} {self.verb} {told} {unit}; its launcher does {span}",
            help=f"{self.fix}: {span}",
            feed=index,
            part=self.part,
        )

    def _written(self, end: float, inward: Callable[[float], int]) -> str:
        """An end of the range as it may be written into a program: never outside of it."""
        if self.written is None:
            return f"{end:g}"
        return f"{inward(round(end * self.written[1] * 10, 6)) / 10:g}"
