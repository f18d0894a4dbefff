"""What all pieces of one command are drawn from: a plan and its launchers, as data."""

from __future__ import annotations

from collections.abc import Mapping
from functools import cached_property

import msgspec

from feedscript.check.draws.places import Places
from feedscript.launcher.profile.model import Profile
from feedscript.plan.model import Plan
from feedscript.safety.analysis.plan_facts import PlanFacts
from feedscript.tongues.text import plain


class _Sent(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    plan: Plan
    profiles: tuple[Profile, ...]


#: Made at import, where one thread is alone: msgspec works a type out at its first use, and the
#: interpreter crashes where two threads do so at the same time.
_DECODER = msgspec.json.Decoder(_Sent)


class Case(msgspec.Struct, frozen=True, dict=True, eq=False):
    """A plan on its launchers. What is worked out on demand is kept."""

    facts: PlanFacts

    @cached_property
    def data(self) -> bytes:
        """The case as JSON: keys sorted, every float in full; read back, it is equal."""
        sent = _Sent(self.facts.plan, self.facts.profiles)
        return msgspec.json.encode(sent, enc_hook=plain, order="sorted")

    @cached_property
    def places(self) -> Places:
        """All that the balls keep away from."""
        return Places.of(self.facts)

    @cached_property
    def least_gaps_s(self) -> Mapping[tuple[int | None, int], float]:
        """The certified pairs of consecutive feeds (None before the first), each with its gap."""
        return {(pair.before, pair.after): pair.least_gap_s for pair in self.facts.pairs}


def case_of(data: bytes) -> Case:
    """The case again from its data; ``msgspec.DecodeError`` where that is none."""
    sent = _DECODER.decode(data)
    return Case(PlanFacts(sent.plan, sent.profiles))
