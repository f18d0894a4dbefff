"""A guide: how many balls one player gets in a lesson."""

from __future__ import annotations

from collections.abc import Mapping

from feedscript.diagnostics import Page, Severity
from feedscript.plan.scene import Group
from feedscript.safety.analysis.limit import Limit, Stricter
from feedscript.safety.analysis.measurement import Measurement, finding
from feedscript.safety.analysis.plan_facts import PlanFacts
from feedscript.safety.analysis.rule import Finding, Rule
from feedscript.safety.examples import example
from feedscript.safety.hazards.who_gets import as_group, each_group
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


def guide_balls(group: Group) -> float:
    """The guide's figure for this group."""
    by_level = LEVEL_BALLS.get(group.level or "", OTHERS_BALLS)
    return min(by_stage(group, STAGE_BALLS, OTHERS_BALLS), by_level)


def own_limit(facts: PlanFacts) -> float:
    """The guide's figure for everybody of this group whatever the program asks."""
    return max(map(guide_balls, each_group(facts.plan.group)))


def most_balls(facts: PlanFacts, player: int) -> float:
    """The guide's figure for this player in this lesson."""
    group = facts.plan.group
    its = as_group(group, group.players[player]) if group.players else group
    return min(guide_balls(its), facts.limit(PAGE.slug, LIMIT))


def _find(facts: PlanFacts) -> Finding:
    each = facts.of_steps("balls of each", balls_of_each)
    limits = [most_balls(facts, player) for player in range(len(each))]
    worst = min(range(len(each)), key=lambda player: (limits[player] - each[player], player))
    balls, limit = each[worst], limits[worst]
    alike = len({*each}) == len({*limits}) == 1
    who = "one player" if alike else facts.plan.group.players[worst].name
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
