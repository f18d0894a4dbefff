"""The case a rule judges: a plan, the profiles it is for, and what follows from both."""

from __future__ import annotations

from dataclasses import dataclass, field

from feedscript.launcher.profile import Profile
from feedscript.plan.certificate import Waiver
from feedscript.plan.model import AimedFeed, Plan
from feedscript.safety.rule import Limit

#: How many standard deviations of scatter every landing and flight rule allows for. Design value:
#: an ellipse of three holds 98.9 % of a normal scatter in two dimensions, 1 - exp(-9/2).
DEFAULT_SIGMA = 3.0


@dataclass(frozen=True)
class Case:
    """A plan and its profiles (one a launcher, in the plan's order)."""

    plan: Plan
    profiles: tuple[Profile, ...]
    waivers: tuple[Waiver, ...] = ()
    requirements: dict[str, float] = field(default_factory=dict)

    def limit(self, slug: str, limit: Limit) -> float:
        """The number a rule holds to here: its default, or the stricter one the program asks."""
        return self.requirements.get(slug, limit.default)

    @property
    def sigma(self) -> float:
        return self.requirements.get("scatter", DEFAULT_SIGMA)

    def profile(self, feed: AimedFeed) -> Profile:
        """The profile of the launcher that sends this feed."""
        return self.profiles[feed.launcher]
