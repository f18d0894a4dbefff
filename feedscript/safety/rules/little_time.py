"""A guide: how long the receiver has from the ball's leaving to meeting it."""

from __future__ import annotations

from feedscript.diagnostics import Page, Severity
from feedscript.safety.analysis.limit import Limit, Stricter
from feedscript.safety.analysis.measurement import Measurement, finding
from feedscript.safety.analysis.plan_facts import PlanFacts
from feedscript.safety.analysis.rule import Finding, Rule
from feedscript.safety.examples import example, fed
from feedscript.units import apart

PAGE = Page(
    slug="little-time",
    title="Little time to see and move",
    why=(
        "A person needs about 0.3 to 0.5 s to see which ball it is and begin to move (from "
        "memory, no source read), and then has to move. Under 0.8 s (design value) from the mouth "
        "to the player, the certificate says so. A guide: it refuses nothing; the coach decides."
    ),
    severity=Severity.WARNING,
    wrong=example(
        fed(
            land="3 m inside baseline, on centre line",
            speed="108 km/h",
            also="receiver 3 m from net, on centre line",
        )
    ),
    corrected=example(
        fed(
            land="3 m inside baseline, on centre line",
            speed="78 km/h",
            also="receiver 1 m behind baseline, on centre line",
        )
    ),
)

LIMIT = Limit(default=0.8, unit="s", stricter=Stricter.HIGHER)


def _find(facts: PlanFacts) -> Finding:
    limit = facts.limit(PAGE.slug, LIMIT)
    measurements = []
    for index, feed in enumerate(facts.plan.feeds):
        time = facts.arrivals[index].time_s
        left, guide = apart(time, limit, 2)
        measurements.append(
            Measurement(
                value=time,
                limit=limit,
                margin=time - limit,
                unit="s",
                words=f"{feed.name} leaves its receiver {time:.2f} s",
                message=f"{feed.name} leaves its receiver {left} s; the guide is {guide} s",
                help="send it slower, or let the receiver wait further back",
                feed=index,
                part="speed",
            )
        )
    return finding(measurements, "the plan has no feeds")


RULE = Rule(
    page=PAGE,
    assumption="the receiver watches the launcher",
    source="design value; reaction times from memory",
    find=_find,
    limit=LIMIT,
    guide=True,
)
