"""No ball reaches its receiver faster than the group's stage and level allow."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from feedscript.diagnostics import Page
from feedscript.plan.scene import Group
from feedscript.safety.analysis.fixes import MOST_FIXES, speeds_that_fix
from feedscript.safety.analysis.limit import Limit, Stricter
from feedscript.safety.analysis.measurement import Measurement, finding
from feedscript.safety.analysis.plan_facts import PlanFacts
from feedscript.safety.analysis.rule import Finding, Rule
from feedscript.safety.examples import example, fed
from feedscript.safety.hazards.who_gets import each_group, for_each_feed, for_whom
from feedscript.safety.hazards.young import stage_by_age
from feedscript.units import apart

PAGE = Page(
    slug="too-fast-for-group",
    title="Too fast for this group",
    why=(
        "How fast a ball may be where the player meets it depends on who stands there. No "
        "federation publishes such a figure; ours are design values, in m/s at the receiver, fast "
        "end of the scatter: red 10, orange 13, green 17; on the full court beginner 18, improver "
        "22, club 27, county 33, touring 40. Where the program names neither stage nor level, the "
        "beginner's figure holds, or for children up to 10 the one of their age: 8 red, 9 orange, "
        "10 green. Where players state their own, the most careful of those who may get a ball "
        "counts. A coach who knows the player may allow more with a reason."
    ),
    wrong=example(fed(speed="112 km/h"), balls="stage red  load 60", group="2 players  stage red"),
    corrected=example(
        fed(speed="96 km/h"), balls="stage red  load 60", group="2 players  stage red"
    ),
)

STAGE_MPS: Mapping[str, float] = {"red": 10.0, "orange": 13.0, "green": 17.0}
LEVEL_MPS: Mapping[str, float] = {
    "beginner": 18.0,
    "improver": 22.0,
    "club": 27.0,
    "county": 33.0,
    "touring": 40.0,
}


def limit_mps(group: Group) -> float:
    """The figure for this group; the slower one where stage and level both speak.

    Where neither does, the ages of children do.
    """
    figures = []
    if group.stage is not None and group.stage in STAGE_MPS:
        figures.append(STAGE_MPS[group.stage])
    if group.level is not None and group.level in LEVEL_MPS:
        figures.append(LEVEL_MPS[group.level])
    if figures:
        return min(figures)
    return STAGE_MPS.get(stage_by_age(group) or "", LEVEL_MPS["beginner"])


LIMIT = Limit(default=LEVEL_MPS["touring"], unit="m/s", stricter=Stricter.LOWER)


def own_limit(facts: PlanFacts) -> float:
    """What holds for everybody of this group whatever the program asks."""
    return max(map(limit_mps, each_group(facts.plan.group)))


def limits_mps(facts: PlanFacts) -> list[float]:
    """For each feed the figure of the most careful of those who may get it."""
    asked, group = facts.limit(PAGE.slug, LIMIT), facts.plan.group
    return [min(own, asked) for own in for_each_feed(group, facts.who_gets, limit_mps, min)]


def _help(worked_out: str | None) -> str:
    slower = "send it slower" if worked_out is None else f"write {worked_out}"
    return f"{slower}, or say in group which stage and level it is"


def speeds_within(facts: PlanFacts, fast: Sequence[int], limits: Sequence[float]) -> dict[int, str]:
    """What to write for a speed that keeps each of these feeds within its limit."""
    found: dict[int, str] = {}
    for index in fast[:MOST_FIXES]:
        limit = limits[index]

        def good(tried: PlanFacts, lane: int, limit: float = limit) -> bool:
            return tried.arrivals[lane].speed_mps <= limit

        found |= speeds_that_fix(facts, [index], good)
    return found


def _find(facts: PlanFacts) -> Finding:
    limits = limits_mps(facts)
    measurements = []
    fast = [i for i, one in enumerate(facts.arrivals) if not one.speed_mps <= limits[i]]
    speeds = speeds_within(facts, fast, limits)
    whom = for_whom(facts.plan.group, facts.who_gets, limit_mps)
    for index, feed in enumerate(facts.plan.feeds):
        speed, limit = facts.arrivals[index].speed_mps, limits[index]
        reaches, most = apart(speed * 3.6, limit * 3.6, 0)
        measurements.append(
            Measurement(
                value=speed,
                limit=limit,
                margin=limit - speed,
                unit="m/s",
                words=f"{feed.name} reaches the receiver at {speed:.1f} m/s",
                message=(
                    f"{feed.name} reaches the receiver at {reaches} km/h; for {whom[index]} "
                    f"{most} km/h is the most"
                ),
                help=_help(speeds.get(index)),
                feed=index,
                part="speed",
            )
        )
    return finding(measurements, "the plan has no feeds")


RULE = Rule(
    page=PAGE,
    assumption="the group is of the stage and level that the program says",
    source="design value",
    find=_find,
    limit=LIMIT,
    own_limit=own_limit,
    waivable=True,
)
