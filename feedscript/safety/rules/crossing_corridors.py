"""Balls of different launchers that fly at the same time do not cross each other's way."""

from __future__ import annotations

import math

from feedscript.diagnostics import Page
from feedscript.plan.folds.across import Across, down_s
from feedscript.safety.analysis.limit import Limit, Stricter
from feedscript.safety.analysis.measurement import Measurement, finding
from feedscript.safety.analysis.plan_facts import PlanFacts
from feedscript.safety.analysis.rule import Finding, Rule
from feedscript.safety.examples import fed, two_stations
from feedscript.safety.hazards.gaps import apart_m
from feedscript.safety.hazards.stations import in_the_air_at_once
from feedscript.units import apart

PAGE = Page(
    slug="crossing-corridors",
    title="The corridors of two launchers' balls cross",
    why=(
        "Two balls that meet go where neither was aimed, and players who run for one ball run "
        "into the way of the other. Seen from above, the corridors of stations that run side by "
        "side, scatter included, stay 0.5 m apart (design value) up to their second bounce, "
        "whatever the moment and the height. The same holds of any two balls of different "
        "launchers that leave so soon after one another that the first may still fly: just before "
        "stations begin, and just after they have ended. Never waived."
    ),
    wrong=two_stations(
        fed("left", land="at 2.5 m, 9 m", speed="76 km/h"),
        fed("right", land="at -2.5 m, 9 m", speed="76 km/h"),
    ),
    corrected=two_stations(
        fed("left", land="at -2.5 m, 9 m", speed="76 km/h"),
        fed("right", land="at 2.5 m, 9 m", speed="76 km/h"),
    ),
)

LIMIT = Limit(default=0.5, unit="m", stricter=Stricter.HIGHER)


def _measurement(
    facts: PlanFacts, limit: float, pair: tuple[int, int], follows: Across | None
) -> Measurement:
    feeds = facts.plan.feeds
    first, second = pair if follows is None else (follows.before, follows.after)
    gap = apart_m(facts.envelopes[first], facts.envelopes[second])
    names = f"{feeds[first].name} and {feeds[second].name}"
    within, kept = apart(gap, limit, 2)
    how = f"cross by {-gap:.2f} m" if gap < 0 else f"come within {within} m of each other"
    when = ""
    help_text = "land each station's feeds on its own side, or let the stations take turns"
    if follows is not None:
        down = down_s(feeds[first])
        when = f", and the second leaves {follows.least_gap_s:.1f} s after the first"
        help_text = (
            f"put `rest {math.ceil(down - follows.least_gap_s)} s` between them, or land them "
            f"apart: {feeds[first].name} may fly and bounce for {down:.1f} s"
        )
    return Measurement(
        value=gap,
        limit=limit,
        margin=gap - limit,
        unit="m",
        words=f"{names} {how}",
        message=f"the corridors of {names} {how}{when}; {kept} m is kept",
        help=help_text,
        feed=second,
        after_feed=first,
        line=None if follows is None else follows.line,
        part="land" if follows is None else "step",
    )


def _find(facts: PlanFacts) -> Finding:
    limit = facts.limit(PAGE.slug, LIMIT)
    pairs = sorted(in_the_air_at_once(facts.plan).items(), key=lambda item: item[0])
    measurements = [_measurement(facts, limit, pair, follows) for pair, follows in pairs]
    return finding(measurements, "no two launchers' balls fly at the same time")


RULE = Rule(
    page=PAGE,
    assumption=(
        "after its second bounce a ball rolls and is not followed; on its second flight it "
        "rises no higher than on its first"
    ),
    source="common practice, no source; margin 0.5 m: design value",
    find=_find,
    limit=LIMIT,
)
