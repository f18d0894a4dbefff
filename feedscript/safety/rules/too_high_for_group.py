"""Every ball comes down to a height that its receiver can play."""

from __future__ import annotations

from collections.abc import Mapping

from feedscript.diagnostics import Page
from feedscript.plan.scene import Group
from feedscript.safety.analysis.limit import Limit, Stricter
from feedscript.safety.analysis.measurement import Measurement, finding
from feedscript.safety.analysis.plan_facts import PlanFacts
from feedscript.safety.analysis.rule import Finding, Rule
from feedscript.safety.examples import example, fed
from feedscript.safety.hazards.arrival import NEAR_M
from feedscript.safety.hazards.who_gets import each_group, for_each_feed, for_whom
from feedscript.safety.hazards.young import stage_by_age
from feedscript.units import apart

PAGE = Page(
    slug="too-high-for-group",
    title="Too high for this group",
    why=(
        "A ball that stays over a child's reach makes the child run backwards with eyes up. "
        "Within 2.5 m of the receiver (Fernandez, Mendez-Villanueva & Pluim 2006: 80 % of strokes "
        "fall there) the ball comes down to a playable height. The figures are design values: red "
        "1.5 m, orange 1.7 m, green 1.9 m, full court 2.4 m. Where the program names neither stage "
        "nor level, `ages` of up to 8, 9 and 10 count as these stages."
    ),
    wrong=example(
        fed(speed="70 km/h", spin="flat"),
        balls="stage green  load 60",
        group="2 players  stage green  receiver 1 m from net, on centre line",
    ),
    corrected=example(
        fed(speed="70 km/h", spin="flat"),
        balls="stage green  load 60",
        group="2 players  stage green  receiver 1 m behind baseline, on centre line",
    ),
)

STAGE_M: Mapping[str, float] = {"red": 1.5, "orange": 1.7, "green": 1.9}
FULL_COURT_M = 2.4


LIMIT = Limit(default=FULL_COURT_M, unit="m", stricter=Stricter.LOWER)


def limit_m(group: Group) -> float:
    """The figure for this group."""
    stage = group.stage or (None if group.level else stage_by_age(group))
    return STAGE_M.get(stage or "", FULL_COURT_M)


def own_limit(facts: PlanFacts) -> float:
    """What holds for everybody of this group whatever the program asks."""
    return max(map(limit_m, each_group(facts.plan.group)))


def _find(facts: PlanFacts) -> Finding:
    asked = facts.limit(PAGE.slug, LIMIT)
    who = facts.plan.group, facts.who_gets
    own, whom = for_each_feed(*who, limit_m, min), for_whom(*who, limit_m)
    measurements = []
    for index, feed in enumerate(facts.plan.feeds):
        height, limit = facts.arrivals[index].lowest_m, min(own[index], asked)
        lowest, most = apart(height, limit, 2)
        measurements.append(
            Measurement(
                value=height,
                limit=limit,
                margin=limit - height,
                unit="m",
                words=f"{feed.name} comes down to {height:.2f} m near the receiver",
                message=(
                    f"within {NEAR_M:g} m of the receiver {feed.name} is never lower than "
                    f"{lowest} m; for {whom[index]} {most} m is the most"
                ),
                help="land it shorter or lower, or move the receiver back",
                feed=index,
                part="land",
            )
        )
    return finding(measurements, "the plan has no feeds")


RULE = Rule(
    page=PAGE,
    assumption="the receiver waits where the program says",
    source="design value",
    find=_find,
    limit=LIMIT,
    own_limit=own_limit,
    waivable=True,
)
