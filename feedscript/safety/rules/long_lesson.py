"""A guide: how long the lesson is."""

from __future__ import annotations

from collections.abc import Mapping

from feedscript.diagnostics import Page, Severity
from feedscript.safety.analysis.limit import Limit, Stricter
from feedscript.safety.analysis.measurement import Measurement, finding
from feedscript.safety.analysis.plan_facts import PlanFacts
from feedscript.safety.analysis.rule import Finding, Rule
from feedscript.safety.examples import example
from feedscript.safety.hazards.who_gets import lowest
from feedscript.safety.hazards.young import by_stage
from feedscript.units import apart

PAGE = Page(
    slug="long-lesson",
    title="A long lesson",
    why=(
        "Attention ends before strength does. The figures are design values, without the time that "
        "people take to collect and to arm: red 45 min, orange and green 60 min, others 90 min; "
        "`ages` of up to 8, 9 and 10 count as these stages. A "
        "guide: it refuses nothing; the coach decides."
    ),
    severity=Severity.WARNING,
    wrong=example(steps="show speed of deep  send deep after 6 s  rest 2 h"),
    corrected=example(steps="show speed of deep  send deep after 6 s  rest 1 h"),
)

STAGE_S: Mapping[str, float] = {"red": 2700.0, "orange": 3600.0, "green": 3600.0}
OTHERS_S = 5400.0


LIMIT = Limit(default=OTHERS_S, unit="s", stricter=Stricter.LOWER)


def own_limit(facts: PlanFacts) -> float:
    """The guide's figure for this group whatever the program asks."""
    return lowest(facts.plan.group, lambda group: by_stage(group, STAGE_S, OTHERS_S))


def _find(facts: PlanFacts) -> Finding:
    limit = min(own_limit(facts), facts.limit(PAGE.slug, LIMIT))
    longest = facts.plan.bounds.time_s[1]
    runs, guide = apart(longest / 60, limit / 60, 0)
    measurement = Measurement(
        value=longest / 60,
        limit=limit / 60,
        margin=(limit - longest) / 60,
        unit="min",
        words=f"the lesson runs up to {longest / 60:.1f} min",
        message=f"the lesson may run {runs} min; the guide is {guide} min",
        help="shorten it, or split it in two",
        part="lesson",
    )
    return finding([measurement], "")


RULE = Rule(
    page=PAGE,
    assumption="the time that people take is not counted",
    source="design value",
    find=_find,
    limit=LIMIT,
    own_limit=own_limit,
    guide=True,
)
