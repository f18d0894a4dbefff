"""Every feed is aimed at a place inside the receiver's half of the court in play."""

from __future__ import annotations

from feedscript.diagnostics import Page
from feedscript.safety.analysis.measurement import Measurement, finding
from feedscript.safety.analysis.plan_facts import PlanFacts
from feedscript.safety.analysis.rule import Finding, Rule
from feedscript.safety.examples import example, fed

PAGE = Page(
    slug="lands-outside",
    title="Aimed outside the court",
    why=(
        "A feed lands inside the lines of the court that the program names, on the receiver's "
        "half. Players look for the ball there. A feed that is meant to land out (to train "
        "leaving a ball) may be allowed with a reason. Lines: ITF Rules of Tennis, Rule 1 and the "
        "appendix on 10-and-under tennis."
    ),
    wrong=example(fed(land="0.5 m past baseline, on centre line", spin="top 300 rpm")),
    corrected=example(fed(land="0.5 m inside baseline, on centre line", spin="top 300 rpm")),
)


def _find(facts: PlanFacts) -> Finding:
    court = facts.court
    measurements = []
    for index, feed in enumerate(facts.plan.feeds):
        x_m, y_m = feed.landing_m
        margin = min(court.half_length_m - y_m, y_m, court.half_width_m - abs(x_m))
        words = f"{feed.name} lands {y_m:.2f} m past the net and {abs(x_m):.2f} m from the middle"
        measurements.append(
            Measurement(
                value=margin,
                limit=0.0,
                margin=margin,
                unit="m inside the lines",
                words=words,
                message=f"{words}, {-margin:.2f} m outside the {court.name} court",
                help=f"move the landing at least {-margin:.2f} m inwards",
                feed=index,
                part="land",
            )
        )
    return finding(measurements, "the plan has no feeds")


RULE = Rule(
    page=PAGE,
    assumption="the court is marked to the rules' measures",
    source="ITF Rules of Tennis, Rule 1",
    find=_find,
    waivable=True,
)
