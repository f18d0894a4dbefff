"""Every feed clears the net, scatter included."""

from __future__ import annotations

from feedscript.diagnostics import Page
from feedscript.safety.analysis.fixes import mouths_that_fix, speeds_that_fix
from feedscript.safety.analysis.limit import Limit, Stricter
from feedscript.safety.analysis.measurement import Measurement, finding
from feedscript.safety.analysis.plan_facts import PlanFacts
from feedscript.safety.analysis.rule import Finding, Rule
from feedscript.safety.examples import example, fed
from feedscript.units import apart

PAGE = Page(
    slug="net-clearance",
    title="The net is not cleared",
    why=(
        "A ball that clips the cord drops or jumps where nobody expects it. The lower edge of the "
        "ball, at the low end of its scatter, passes the cord with room to spare; 10 cm is a "
        "design value. A low feed, such as one for a volley taken at the net, may be allowed with "
        "a reason. Net heights: ITF Rules of Tennis, Rule 1."
    ),
    wrong=example(
        fed(land="2.4 m inside service line, on centre line", speed="86 km/h", spin="flat")
    ),
    corrected=example(
        fed(land="2.4 m inside service line, on centre line", speed="66 km/h", spin="flat")
    ),
)

LIMIT = Limit(default=0.10, unit="m", stricter=Stricter.HIGHER)


def _help(*worked_out: str | None) -> str:
    found = [words for words in worked_out if words is not None]
    usual = "give it more topspin, or land it deeper"
    return f"write {' or '.join(found)}; or {usual}" if found else usual


def _find(facts: PlanFacts) -> Finding:
    limit = facts.limit(PAGE.slug, LIMIT)
    measurements = []
    low = [index for index, one in enumerate(facts.recomputed) if not one.net_room_m >= limit]
    speeds = speeds_that_fix(
        facts, low, lambda tried, lane: tried.recomputed[lane].net_room_m >= limit
    )
    mouths = mouths_that_fix(
        facts, low, lambda tried, lane: tried.recomputed[lane].net_room_m >= limit
    )
    for index, feed in enumerate(facts.plan.feeds):
        room = facts.recomputed[index].net_room_m
        has, asked = apart(room, limit, 2)
        measurements.append(
            Measurement(
                value=room,
                limit=limit,
                margin=room - limit,
                unit="m",
                words=f"{feed.name} clears the net by {room:.2f} m at the low end of its scatter",
                message=(
                    f"{feed.name} passes the net with {has} m of room at {facts.sigma:g} "
                    f"sigma; {asked} m is asked"
                ),
                help=_help(speeds.get(index), mouths.get(index)),
                feed=index,
                part="speed",
            )
        )
    return finding(measurements, "the plan has no feeds")


RULE = Rule(
    page=PAGE,
    assumption="the net stands at its measured height, and the profile's dispersion is true",
    source="net: ITF Rules of Tennis, Rule 1; margin 0.10 m: design value",
    find=_find,
    limit=LIMIT,
    waivable=True,
)
