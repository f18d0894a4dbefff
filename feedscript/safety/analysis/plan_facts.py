"""What a rule looks at: a plan, its profiles, and what follows from both, worked out once."""

from __future__ import annotations

from collections.abc import Callable, Hashable, Sequence
from functools import cached_property, partial
from typing import TypeVar

import msgspec

from feedscript.court.lines import COURTS, Court
from feedscript.launcher.profile.model import Profile
from feedscript.memo import Memo, content
from feedscript.plan.certificate import Waiver
from feedscript.plan.folds.across import Across
from feedscript.plan.folds.pairs import Pair, pairs_of
from feedscript.plan.folds.steps_alone import steps_alone
from feedscript.plan.model import AimedFeed, Plan
from feedscript.safety.analysis.limit import Limit, Stricter
from feedscript.safety.hazards.arrival import Arrival, arrivals
from feedscript.safety.hazards.envelope import Envelope
from feedscript.safety.hazards.order import Sent, sends
from feedscript.safety.hazards.recomputed_flights import (
    FlightBatch,
    RecomputedFlight,
    recompute_flights,
)
from feedscript.safety.hazards.stations import in_the_air_at_once, side_by_side
from feedscript.safety.hazards.surfaces import surfaces
from feedscript.safety.hazards.who_gets import who_gets

#: How many standard deviations of scatter every landing and flight rule allows for. Design value:
#: an ellipse of three holds 98.9 % of a normal scatter in two dimensions, 1 - exp(-9/2).
DEFAULT_SIGMA = 3.0

#: `require scatter N`: more standard deviations for every rule that looks at scatter.
SCATTER = Limit(default=DEFAULT_SIGMA, unit="sigma", stricter=Stricter.HIGHER)


T = TypeVar("T")


class PlanFacts(msgspec.Struct, frozen=True, dict=True):
    """A plan and its profiles (one a launcher, in the plan's order).

    What is worked out on demand is kept, so rules may ask for it as often as they like.
    """

    plan: Plan
    profiles: tuple[Profile, ...]
    memo: Memo = msgspec.field(default_factory=Memo)  # of earlier checks

    @property
    def waivers(self) -> tuple[Waiver, ...]:
        return self.plan.waivers

    def limit(self, slug: str, limit: Limit) -> float:
        """The number a rule holds to here: its default, or the strictest the program asks."""
        asked = (one.value for one in self.plan.requirements if one.rule == slug)
        return limit.strictest((limit.default, *asked))

    @property
    def sigma(self) -> float:
        return self.limit("scatter", SCATTER)

    @property
    def court(self) -> Court:
        """The lines of the court in play."""
        return COURTS[self.plan.court.kind]

    def profile(self, feed: AimedFeed) -> Profile:
        """The profile of the launcher that sends this feed."""
        return self.profiles[feed.launcher]

    def of_steps(self, what: str, work: Callable[[Plan], T]) -> T:
        """What follows from the steps, the group and the launchers, however the feeds fly.

        ``work`` is given a plan whose feeds say nothing of their flight.
        """
        plan, key = self._steps
        return self.memo.one(what, key, lambda: work(plan))

    def of_feeds(self, what: str, work: Callable[[int], T]) -> list[T]:
        """For each feed what follows from its own numbers and its launcher's, whatever else the
        plan says."""
        return self.memo.each(what, self._feeds, lambda rows: [work(row) for row in rows])

    def of_pairs(self, what: str, pairs: Sequence[Pair], work: Callable[[Pair], T]) -> list[T]:
        """For each pair what follows from it, and from the numbers of its feeds and launcher."""
        own = self._feeds
        keys = [
            (pair, own[pair.after], None if pair.before is None else own[pair.before])
            for pair in pairs
        ]
        return self.memo.each(what, keys, lambda rows: [work(pairs[row]) for row in rows])

    @cached_property
    def _feeds(self) -> list[Hashable]:
        own = list(map(content, self.plan.launchers, self.profiles))
        return [
            (index, own[feed.launcher], content(feed)) for index, feed in enumerate(self.plan.feeds)
        ]

    @cached_property
    def _steps(self) -> tuple[Plan, bytes]:
        alone = steps_alone(self.plan)
        return alone, content(alone)

    @cached_property
    def pairs(self) -> tuple[Pair, ...]:
        """Every pair of consecutive feeds that any run can produce."""
        every = range(len(self.plan.launchers))
        return tuple(pair for launcher in every for pair in self.pairs_of(launcher))

    def pairs_of(self, launcher: int) -> tuple[Pair, ...]:
        """Every such pair of one launcher's balls."""
        return self.of_steps(f"pairs of {launcher}", partial(pairs_of, launcher=launcher))

    @cached_property
    def who_gets(self) -> tuple[frozenset[int], ...]:
        """For each feed the players who may get it."""
        return self.of_steps("who gets", who_gets)

    @cached_property
    def sends(self) -> tuple[Sent, ...]:
        """Every feed wherever it is sent, with what was surely shown before it."""
        return sends(self.plan.steps, self.plan.feeds, len(self.plan.launchers))

    @cached_property
    def at_once(self) -> dict[tuple[int, int], Across | None]:
        """Every pair of feeds of different launchers that may fly at the same time."""
        beside = self.of_steps("side by side", side_by_side)
        return in_the_air_at_once(self.plan, beside)

    @cached_property
    def batches(self) -> tuple[FlightBatch, ...]:
        """Every feed flown again, with its scatter; corridors, arrivals and pictures share it."""
        return recompute_flights(self.plan, self.profiles, self.sigma, self.memo)

    @cached_property
    def recomputed(self) -> tuple[RecomputedFlight, ...]:
        """Every feed flown again from its speed, spin and direction."""
        found: dict[int, RecomputedFlight] = {}
        for batch in self.batches:
            found.update(zip(batch.throws.feeds, batch.recomputed, strict=True))
        return tuple(found[index] for index in range(len(self.plan.feeds)))

    @cached_property
    def envelopes(self) -> tuple[Envelope, ...]:
        """The room that every feed may take, scatter included."""
        from feedscript.safety.hazards.corridor import corridors  # only where something is near

        found = corridors(self.batches, surfaces(self.plan.court))
        return tuple(found[index] for index in range(len(self.plan.feeds)))

    @cached_property
    def arrivals(self) -> tuple[Arrival, ...]:
        """How every feed reaches its receiver."""
        found: dict[int, Arrival] = {}
        for batch in self.batches:
            found.update(arrivals(self.plan, self.profiles, batch.throws, self.sigma))
        return tuple(found[index] for index in range(len(self.plan.feeds)))
