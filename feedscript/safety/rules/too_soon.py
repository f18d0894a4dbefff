"""No feed comes sooner after another than its launcher can change over."""

from __future__ import annotations

import math
from collections.abc import Sequence
from functools import partial

from feedscript.diagnostics import Page
from feedscript.launcher.change import LEAST_INTERVAL, change_time
from feedscript.plan.folds.pairs import Pair
from feedscript.plan.model import AimedFeed
from feedscript.safety.analysis.measurement import Measurement, finding
from feedscript.safety.analysis.plan_facts import PlanFacts
from feedscript.safety.analysis.rule import Finding, Rule
from feedscript.safety.examples import example, fed
from feedscript.units import apart

PAGE = Page(
    slug="too-soon",
    title="Too soon after the ball before",
    why=(
        "Between two balls the wheels run up or down, the head pans and tilts, the gate turns and "
        "things settle. A ball that leaves before has another speed or another direction than it "
        "was aimed with. Every pair of consecutive feeds that any run of the lesson can produce is "
        "held against what the profile needs for that change; the pairs are worked out over the "
        "tree and are exact. The first ball of a lesson, and the first after each collect, comes "
        "from rest: the wheels stand still, and nobody knows where the head stands, for hands may "
        "have turned it, so that it may have its whole range to go. Never waived."
    ),
    wrong=example(
        more=fed("fast", speed="100 km/h", spin="top 2200 rpm"),
        steps=(
            "show speed of fast  rest 9 s  "
            "send deep after 6 s  send fast after 2 s  send deep after 2 s"
        ),
    ),
    corrected=example(
        more=fed("fast", speed="100 km/h", spin="top 2200 rpm"),
        steps=(
            "show speed of fast  rest 9 s  "
            "send deep after 6 s  send fast after 4 s  send deep after 4 s"
        ),
    ),
)


def _measurement(facts: PlanFacts, pair: Pair) -> Measurement:
    feeds, profile = facts.plan.feeds, facts.profiles[pair.launcher]
    after = feeds[pair.after]
    before = None if pair.before is None else feeds[pair.before]
    change = change_time(profile, before.setting if before else None, after.setting)
    # The least interval is a rule of its own.
    needed = max(
        (part for part in change.parts if part.name != LEAST_INTERVAL),
        key=lambda part: part.seconds,
    )
    start = f"after {before.name}" if before else "from rest"
    gap = pair.least_gap_s
    found, least_s = apart(gap, needed.seconds, 2)
    later_s = math.ceil(100 * needed.seconds) / 100
    words = f"{after.name} comes {found} s {start}"
    return Measurement(
        value=gap,
        limit=needed.seconds,
        # A plan counts whole milliseconds; a shortage below half of one is none.
        margin=gap - needed.seconds + 0.0005,
        unit="s",
        words=f"{words}, the launcher needs {needed.seconds:.2f} s for {needed.name}",
        message=f"{words}; the launcher needs {least_s} s ({needed.name})",
        help=f"send it at least {later_s:.2f} s after{_or_alike(before)}",
        feed=pair.after,
        after_feed=pair.before,
        line=pair.line or None,
        part="step",
    )


def _or_alike(before: AimedFeed | None) -> str:
    return "" if before is None else ", or make the two feeds more alike"


def measured(facts: PlanFacts, pairs: Sequence[Pair]) -> list[Measurement]:
    """Each of these pairs of the plan's feeds."""
    return facts.of_pairs(PAGE.slug, pairs, partial(_measurement, facts))


def _find(facts: PlanFacts) -> Finding:
    return finding(measured(facts, facts.pairs), "the lesson sends nothing")


RULE = Rule(
    page=PAGE,
    assumption="the profile's rates are true of the launcher, its battery full",
    source="the launcher's profile",
    find=_find,
)
