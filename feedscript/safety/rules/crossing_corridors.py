"""Balls of stations side by side do not cross each other's way."""

from __future__ import annotations

from feedscript.diagnostics import Page
from feedscript.safety.case import Case
from feedscript.safety.examples import fed, two_stations
from feedscript.safety.gaps import apart_m
from feedscript.safety.reading import Reading, finding
from feedscript.safety.rule import Finding, Limit, Rule, Stricter
from feedscript.safety.stations import side_by_side

PAGE = Page(
    slug="crossing-corridors",
    title="The corridors of two stations cross",
    why=(
        "Two balls that meet go where neither was aimed, and players who run for one ball run "
        "into the way of the other. Seen from above, the corridors of stations that run side by "
        "side, scatter included, stay 0.5 m apart (design value) up to their second bounce, "
        "whatever the moment and the height. Never waived."
    ),
    wrong=two_stations(
        fed("left", land="at 2.5 m, 9 m", speed="76 km/h"),
        fed("right", land="at -2.5 m, 9 m", speed="76 km/h"),
    ),
    mended=two_stations(
        fed("left", land="at -2.5 m, 9 m", speed="76 km/h"),
        fed("right", land="at 2.5 m, 9 m", speed="76 km/h"),
    ),
)

LIMIT = Limit(default=0.5, unit="m", stricter=Stricter.HIGHER)


def _find(case: Case) -> Finding:
    limit, feeds = case.limit(PAGE.slug, LIMIT), case.plan.feeds
    readings = []
    for first, second in sorted(side_by_side(case.plan)):
        gap = apart_m(case.envelopes[first], case.envelopes[second])
        names = f"{feeds[first].name} and {feeds[second].name}"
        how = f"cross by {-gap:.2f} m" if gap < 0 else f"come within {gap:.2f} m of each other"
        readings.append(
            Reading(
                value=gap,
                limit=limit,
                margin=gap - limit,
                unit="m",
                words=f"{names} {how}",
                message=f"the corridors of {names} {how}; {limit:g} m is kept",
                help="land each station's feeds on its own side, or let the stations take turns",
                feed=second,
                after_feed=first,
                part="land",
            )
        )
    return finding(readings, "no two stations run side by side")


RULE = Rule(
    page=PAGE,
    assumption="after its second bounce a ball rolls and is not followed",
    source="common practice, no source; margin 0.5 m: design value",
    find=_find,
    limit=LIMIT,
)
