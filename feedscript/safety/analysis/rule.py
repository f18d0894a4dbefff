"""What a safety rule is: its page, its limit, and the function that finds the worst case.

A rule is a value. Its function sees :class:`PlanFacts` (a plan, the profiles it is for, and the
flights they give) and returns a :class:`Finding`; it raises nothing for bad input, and one that
does raise all the same counts as a refusal (see ``apply_rules``). A limit may only be made
stricter; a waivable rule may be set aside by the program with a reason on record, and some never
may.
"""

from __future__ import annotations

from collections.abc import Callable

import msgspec

from feedscript.diagnostics import Page
from feedscript.safety.analysis.limit import Limit
from feedscript.safety.analysis.plan_facts import PlanFacts

#: Raised whenever a rule, a limit or a source changes: an engine refuses a plan of older rules.
RULES_VERSION = "12"


class Breach(msgspec.Struct, frozen=True):
    """One place where a rule is broken. ``part`` names the clause of a feed to point at."""

    message: str
    help: str
    feed: int | None = None
    after_feed: int | None = None
    line: int | None = None
    part: str = ""


class Worst(msgspec.Struct, frozen=True):
    """The case nearest to the limit (or furthest past it), in the rule's unit."""

    words: str
    value: float | None = None
    limit: float | None = None
    margin: float | None = None
    unit: str = ""
    feed: int | None = None
    after_feed: int | None = None
    line: int | None = None


class Finding(msgspec.Struct, frozen=True):
    """What a rule found: its worst case and every breach; or why it has nothing to say."""

    worst: Worst
    breaches: tuple[Breach, ...] = ()
    silent: bool = False


def nothing(words: str) -> Finding:
    """The finding of a rule that has nothing to measure, with the reason."""
    return Finding(Worst(words), silent=True)


class Rule(msgspec.Struct, frozen=True):
    """One rule.

    ``assumption`` is what the result rests on; ``source`` names a publication, or says "design
    value" or "common practice, no source". ``own_limit`` is what
    holds for this group, or on these launchers, without being asked for. A ``guide`` is shown and
    never refuses.
    """

    page: Page
    assumption: str
    source: str
    find: Callable[[PlanFacts], Finding]
    limit: Limit | None = None
    own_limit: Callable[[PlanFacts], float] | None = None
    waivable: bool = False
    guide: bool = False

    @property
    def slug(self) -> str:
        return self.page.slug

    def set_aside(self, facts: PlanFacts) -> bool:
        """Whether the program sets it aside, and may."""
        return self.waivable and any(one.rule == self.slug for one in facts.waivers)
