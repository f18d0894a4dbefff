"""No two balls of a launcher come closer than its least interval."""

from __future__ import annotations

from collections.abc import Iterable

from feedscript.diagnostics import Page
from feedscript.plan.folds.pairs import Pair
from feedscript.safety.analysis.limit import Limit, Stricter
from feedscript.safety.analysis.measurement import Measurement, finding
from feedscript.safety.analysis.plan_facts import PlanFacts
from feedscript.safety.analysis.rule import Finding, Rule
from feedscript.safety.examples import example
from feedscript.units import apart

PAGE = Page(
    slug="least-interval",
    title="Two balls closer than the least interval",
    why=(
        "Whatever the change between two settings takes, a profile states the shortest time "
        "between two balls, and the program may ask for a longer one. A person must have seen the "
        "last ball before the next one comes. Never waived."
    ),
    wrong=example(steps="show speed of deep  repeat 3 { send deep after 1.6 s }"),
    corrected=example(steps="show speed of deep  repeat 3 { send deep after 1.9 s }"),
)

#: The program may ask for more with `require least-interval`; the profile's figure always holds.
LIMIT = Limit(default=0.0, unit="s", stricter=Stricter.HIGHER)


def own_limit(facts: PlanFacts) -> float:
    """What every launcher here asks of itself, whatever the program asks."""
    return min(profile.limits.least_interval_s for profile in facts.profiles)


def measured(facts: PlanFacts, pairs: Iterable[Pair]) -> list[Measurement]:
    """Each of these pairs of the plan's feeds."""
    measurements = []
    for pair in pairs:
        if pair.before is None:
            continue
        least = facts.profiles[pair.launcher].limits.least_interval_s
        limit = max(least, facts.limit(PAGE.slug, LIMIT))
        feed = facts.plan.feeds[pair.after]
        before = facts.plan.feeds[pair.before]
        gap, least_s = apart(pair.least_gap_s, limit, 2)
        words = f"{feed.name} comes {gap} s after {before.name}"
        measurements.append(
            Measurement(
                value=pair.least_gap_s,
                limit=limit,
                margin=pair.least_gap_s - limit,
                unit="s",
                words=words,
                message=f"{words}; {least_s} s is the least",
                help=f"send it {limit:g} s after or later",
                feed=pair.after,
                after_feed=pair.before,
                line=pair.line or None,
                part="step",
            )
        )
    return measurements


def _find(facts: PlanFacts) -> Finding:
    return finding(measured(facts, facts.pairs), "no ball follows another")


RULE = Rule(
    page=PAGE,
    assumption="the launcher keeps its own clock true",
    source="the launcher's profile",
    find=_find,
    limit=LIMIT,
    own_limit=own_limit,
)
