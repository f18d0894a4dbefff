"""A guide: a feed's balls land in the target that the program draws for it."""

from __future__ import annotations

import numpy as np

from feedscript.diagnostics import Page, Severity
from feedscript.launcher.scatter import share_inside
from feedscript.safety.analysis.measurement import Measurement, finding
from feedscript.safety.analysis.plan_facts import PlanFacts
from feedscript.safety.analysis.rule import Finding, Rule
from feedscript.safety.examples import example, fed

PAGE = Page(
    slug="wide-of-target",
    title="A target that this launcher mostly misses",
    why=(
        "`within` says how near its place a feed should land. Where the launcher scatters so much "
        "that fewer than half of its balls land there (design value), the player is not fed what "
        "the program says. The share follows from the scatter, taken as normal. A guide: it "
        "refuses nothing; a wider target, or a launcher in better trim, helps."
    ),
    severity=Severity.WARNING,
    wrong=example(fed(also="within 10 cm")),
    corrected=example(fed(also="within 60 cm")),
)

LEAST_SHARE = 0.5


def _find(facts: PlanFacts) -> Finding:
    measurements = []
    for index, feed in enumerate(facts.plan.feeds):
        if feed.within_m is None:
            continue
        scatter = np.diag(np.square(facts.recomputed[index].scatter_m))
        share = share_inside(feed.within_m, scatter)
        words = f"{share:.0%} of {feed.name} land within {feed.within_m:g} m of their place"
        measurements.append(
            Measurement(
                value=share,
                limit=LEAST_SHARE,
                margin=share - LEAST_SHARE,
                unit="of all",
                words=words,
                message=f"only {words}; the guide is half of them",
                help="widen the target, send it slower, or bring the launcher into better trim",
                feed=index,
                part="within",
            )
        )
    return finding(measurements, "no feed has a target")


RULE = Rule(
    page=PAGE,
    assumption="the profile's dispersion is true",
    source="design value",
    find=_find,
    guide=True,
)
