"""What all balls and runs of one command are drawn from: a plan and its launchers, as data."""

from __future__ import annotations

from collections.abc import Mapping
from functools import cached_property

import msgspec

from feedscript.check.in_pieces.places import Places
from feedscript.launcher.profile.model import Profile
from feedscript.plan.model import Plan
from feedscript.safety.analysis.plan_facts import PlanFacts
from feedscript.tongues.text import plain


class CaseData(msgspec.Struct, frozen=True, forbid_unknown_fields=True, tag="plan"):
    """The case as it travels."""

    plan: Plan
    profiles: tuple[Profile, ...]

    def case(self) -> Case:
        return Case(PlanFacts(self.plan, self.profiles))


class Case(msgspec.Struct, frozen=True, dict=True, eq=False):
    """A plan on its launchers. What is worked out on demand is kept."""

    facts: PlanFacts

    @cached_property
    def data(self) -> bytes:
        """The case as JSON: keys sorted, every float in full; read back, it is equal."""
        sent = CaseData(self.facts.plan, self.facts.profiles)
        return msgspec.json.encode(sent, enc_hook=plain, order="sorted")

    @cached_property
    def places(self) -> Places:
        """All that the balls keep away from."""
        return Places.of(self.facts)

    @cached_property
    def least_gaps_s(self) -> Mapping[tuple[int | None, int], float]:
        """The certified pairs of consecutive feeds (None before the first), each with its gap."""
        return {(pair.before, pair.after): pair.least_gap_s for pair in self.facts.pairs}
