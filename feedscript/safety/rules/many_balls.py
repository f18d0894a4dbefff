"""A guide: how many balls one player gets in a lesson."""

from __future__ import annotations

from collections.abc import Mapping

from feedscript.diagnostics import Page, Severity
from feedscript.safety.analysis.limit import Limit, Stricter
from feedscript.safety.analysis.measurement import Measurement, finding
from feedscript.safety.analysis.plan_facts import PlanFacts
from feedscript.safety.analysis.rule import Finding, Rule
from feedscript.safety.examples import example
from feedscript.safety.hazards.work import balls_of_each
from feedscript.safety.hazards.young import by_stage
from feedscript.units import apart

PAGE = Page(
    slug="many-balls",
    title="Many balls for one player",
    why=(
        "Arms and shoulders are worn by repetition, growing ones first. A match of three sets asks "
        "300 to 500 efforts (Fernandez, Mendez-Villanueva & Pluim 2006); over 300 balls for one "
        "player in a lesson is noted. For stages and beginners the figures are design values: red "
        "100, orange 130, green 160, beginner 200; `ages` of up to 8, 9 and 10 count as these "
        "stages. A guide: it refuses nothing; coach, parents and doctors decide."
    ),
    severity=Severity.WARNING,
    wrong=example(
        group="1 player  level beginner",
        steps=(
            "show speed of deep  "
            "repeat 24 { repeat 10 { send deep after 5 s }  rest 20 s  collect }"
        ),
    ),
    corrected=example(
        group="1 player  level beginner",
        steps=(
            "show speed of deep  "
            "repeat 18 { repeat 10 { send deep after 5 s }  rest 20 s  collect }"
        ),
    ),
)

STAGE_BALLS: Mapping[str, float] = {"red": 100, "orange": 130, "green": 160}
LEVEL_BALLS: Mapping[str, float] = {"beginner": 200}
OTHERS_BALLS = 300.0


LIMIT = Limit(default=OTHERS_BALLS, unit="balls", stricter=Stricter.LOWER)


def own_limit(facts: PlanFacts) -> float:
    """The guide's figure for this group whatever the program asks."""
    group = facts.plan.group
    by_level = LEVEL_BALLS.get(group.level or "", OTHERS_BALLS)
    return min(by_stage(group, STAGE_BALLS, OTHERS_BALLS), by_level)


def most_balls(facts: PlanFacts) -> float:
    """The guide's figure for this lesson."""
    return min(own_limit(facts), facts.limit(PAGE.slug, LIMIT))


def _find(facts: PlanFacts) -> Finding:
    limit = most_balls(facts)
    each = balls_of_each(facts.plan)
    balls = max(each)
    who = "one player"
    if min(each) < balls:
        who = facts.plan.group.players[each.index(balls)].name
    gets, guide = apart(balls, limit, 0)
    again = "" if facts.plan.bounds.repeated_balls is None else ", every repeat used"
    measurement = Measurement(
        value=balls,
        limit=limit,
        margin=limit - balls,
        unit="balls",
        words=f"{who} gets up to {balls:.0f} balls{again}",
        message=f"{who} may get {gets} balls{again}; the guide is {guide}",
        help="share the balls among more players, or shorten the lesson",
        part="lesson",
    )
    return finding([measurement], "")


RULE = Rule(
    page=PAGE,
    assumption="outside turns the group shares the balls evenly",
    source="Fernandez et al. 2006; stages and beginners: design value",
    find=_find,
    limit=LIMIT,
    own_limit=own_limit,
    guide=True,
)
