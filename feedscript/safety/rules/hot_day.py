"""A guide: a note on the heat."""

from __future__ import annotations

from feedscript.diagnostics import Page, Severity
from feedscript.safety.analysis.limit import Limit, Stricter
from feedscript.safety.analysis.measurement import Measurement, finding
from feedscript.safety.analysis.plan_facts import PlanFacts
from feedscript.safety.analysis.rule import Finding, Rule
from feedscript.safety.examples import example
from feedscript.units import apart

PAGE = Page(
    slug="hot-day",
    title="Heat",
    why=(
        "Heat harms before it is felt, children first. What counts is the wet-bulb globe "
        "temperature, which needs an instrument: the ITF changes play from 30.1 C of it (2021). "
        "The program knows the air's temperature only, so from 30 C of air (design value, lower "
        "than the 35 and 36 C at which clubs are seen to stop) it says: measure, shade, drink, "
        "shorten. A guide: it refuses nothing and defers to medical advice and the club's rules."
    ),
    severity=Severity.WARNING,
    wrong=example(court="surface hard  air 34 C"),
    corrected=example(court="surface hard  air 26 C"),
)

LIMIT = Limit(default=30.0, unit="C", stricter=Stricter.LOWER)


def _find(facts: PlanFacts) -> Finding:
    limit, air = facts.limit(PAGE.slug, LIMIT), facts.plan.court.air_c
    measurement = Measurement(
        value=air,
        limit=limit,
        margin=limit - air,
        unit="C",
        words=f"air at {air:g} C",
        message="the air is at {} C; above {} C heat needs a plan".format(*apart(air, limit, 0)),
        help="measure the wet-bulb globe temperature; shade, water, shorter series; ask who knows",
        part="court",
    )
    return finding([measurement], "")


RULE = Rule(
    page=PAGE,
    assumption="the air is as warm as the program says",
    source="ITF heat rule 2021 (wet-bulb globe temperature); air temperature: design value",
    find=_find,
    limit=LIMIT,
    guide=True,
)
