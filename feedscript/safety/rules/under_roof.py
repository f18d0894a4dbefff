"""No feed comes near the roof of a hall."""

from __future__ import annotations

import math

from feedscript.diagnostics import Page
from feedscript.safety.analysis.limit import Limit, Stricter
from feedscript.safety.analysis.measurement import Measurement, finding
from feedscript.safety.analysis.plan_facts import PlanFacts
from feedscript.safety.analysis.rule import Finding, Rule
from feedscript.safety.examples import example, fed
from feedscript.safety.hazards.envelope import BALL_RADIUS_M
from feedscript.units import apart

PAGE = Page(
    slug="under-roof",
    title="Too high for the hall",
    why=(
        "A ball that touches the roof, a lamp or a heater comes down where nobody expects it. Its "
        "upper edge, at the high end of its scatter, stays below the declared roof with 0.5 m to "
        "spare (design value; lamps and nets hang lower than the roof). The rules' guide for a "
        "ceiling over the net is 30 ft (ITF Rules of Tennis, appendix on court plans). Never "
        "waived."
    ),
    wrong=example(
        fed(land="3 m inside baseline, on centre line", speed="62 km/h", spin="flat"),
        court="surface hard  roof 4 m",
    ),
    corrected=example(
        fed(land="3 m inside baseline, on centre line", speed="62 km/h", spin="flat"),
        court="surface hard  roof 9 m",
    ),
)

LIMIT = Limit(default=0.5, unit="m", stricter=Stricter.HIGHER)


def _find(facts: PlanFacts) -> Finding:
    roof = facts.plan.court.roof_m
    measurements: list[Measurement] = []
    if roof is None:
        return finding(measurements, "no roof is declared: the open air is assumed")
    limit = facts.limit(PAGE.slug, LIMIT)
    for index, feed in enumerate(facts.plan.feeds):
        # A ball thrown down hard rises higher after its bounce than before.
        after = float(facts.envelopes[index].highest_m.max())
        top = max(after, facts.recomputed[index].top_m + BALL_RADIUS_M)
        room = roof - top
        lower_m = math.ceil(100 * (limit - room)) / 100
        rises, _ = apart(top, roof - limit, 2)
        measurements.append(
            Measurement(
                value=room,
                limit=limit,
                margin=room - limit,
                unit="m",
                words=f"{feed.name} rises to {top:.2f} m under a roof at {roof:g} m",
                message=(
                    f"{feed.name} rises to {rises} m at {facts.sigma:g} sigma; the roof is at "
                    f"{roof:g} m and {limit:g} m is kept clear"
                ),
                help=f"lower its apex by {lower_m:.2f} m: faster and flatter",
                feed=index,
                part="apex",
            )
        )
    return finding(measurements, "the plan has no feeds")


RULE = Rule(
    page=PAGE,
    assumption="the declared roof is the lowest thing over the court",
    source="margin 0.5 m: design value",
    find=_find,
    limit=LIMIT,
)
