"""No ball's corridor enters a neighbouring court."""

from __future__ import annotations

from feedscript.diagnostics import Page
from feedscript.plan.scene import Area
from feedscript.safety.analysis.areas import Stay, stay_clear
from feedscript.safety.analysis.limit import Limit, Stricter
from feedscript.safety.analysis.plan_facts import PlanFacts
from feedscript.safety.analysis.rule import Breach, Finding, Rule, Worst
from feedscript.safety.examples import example, fed

PAGE = Page(
    slug="into-neighbour",
    title="A ball's corridor enters the neighbouring court",
    why=(
        "People on the next court do not watch our launcher. At no height does a ball's corridor, "
        "scatter included, enter a court that the program declares beside this one, before its "
        "second bounce. Common practice, no source. Never waived."
    ),
    wrong=example(
        fed(
            land="3 m inside baseline, 0.2 m inside ad sideline",
            speed="95 km/h",
            spin="top 1500 rpm",
        ),
        court="surface hard  side room 0.3 m  neighbours ad",
        launcher='profile "garage.toml"  stands 1 m behind baseline, 3 m ad of centre mark',
    ),
    corrected=example(
        fed(
            land="3 m inside baseline, 0.2 m inside ad sideline",
            speed="95 km/h",
            spin="top 1500 rpm",
        ),
        court="surface hard  side room 3 m  neighbours ad",
        launcher='profile "garage.toml"  stands 1 m behind baseline, 3 m ad of centre mark',
    ),
)

LIMIT = Limit(default=0.0, unit="m", stricter=Stricter.HIGHER)
#: As wide as a doubles court and its run-off on both sides (ITF Rules of Tennis), rounded up.
WIDE_M = 18.0
LONG_M = 40.0


def neighbours(facts: PlanFacts) -> list[Area] | None:
    """The areas of the neighbouring courts; None if how far off they lie is not declared."""
    court = facts.plan.court
    if not court.neighbours:
        return []
    if court.side_clearance_m is None:
        return None
    edge = (facts.court.doubles_half_width_m or facts.court.half_width_m) + court.side_clearance_m
    areas = []
    for side in court.neighbours:
        sign = 1.0 if side == "ad" else -1.0
        near, far = sign * edge, sign * (edge + WIDE_M)
        outline = ((near, -LONG_M), (far, -LONG_M), (far, LONG_M), (near, LONG_M))
        areas.append(Area(name=f"on the {side} side", outline_m=outline, height_m=None, line=0))
    return areas


def stays(facts: PlanFacts) -> list[Stay]:
    """Every feed beside every neighbouring court whose distance is declared."""
    return [
        Stay(index, area, "neighbouring court")
        for index in range(len(facts.plan.feeds))
        for area in neighbours(facts) or ()
    ]


def _find(facts: PlanFacts) -> Finding:
    if neighbours(facts) is None:
        message = "a court is declared beside this one, but not how far from its sideline"
        fix = "add the distance from the sideline to the next court"
        return Finding(Worst(message), (Breach(message, fix, part="court"),))
    silent = "no neighbouring court is declared: none is assumed"
    return stay_clear(facts, stays(facts), facts.limit(PAGE.slug, LIMIT), silent)


RULE = Rule(
    page=PAGE,
    assumption="the neighbouring courts lie as far off as declared; a rolling ball is not followed",
    source="common practice, no source",
    find=_find,
    limit=LIMIT,
)
