"""Every feed clears the net, scatter included."""

from __future__ import annotations

from feedscript.diagnostics import Page
from feedscript.safety.case import Case
from feedscript.safety.examples import example, fed
from feedscript.safety.reading import Reading, finding
from feedscript.safety.rule import Finding, Limit, Rule, Stricter

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
    mended=example(
        fed(land="2.4 m inside service line, on centre line", speed="66 km/h", spin="flat")
    ),
)

LIMIT = Limit(default=0.10, unit="m", stricter=Stricter.HIGHER)


def _find(case: Case) -> Finding:
    limit = case.limit(PAGE.slug, LIMIT)
    readings = []
    for index, feed in enumerate(case.plan.feeds):
        room = case.flown[index].net_room_m
        lack = limit - room
        readings.append(
            Reading(
                value=room,
                limit=limit,
                margin=room - limit,
                unit="m",
                words=f"{feed.name} clears the net by {room:.2f} m at the low end of its scatter",
                message=(
                    f"{feed.name} passes the net with {room:.2f} m of room at {case.sigma:g} "
                    f"sigma; {limit:.2f} m is asked"
                ),
                help=f"give it {lack:.2f} m more height: slower, more topspin, or landing deeper",
                feed=index,
                part="speed",
            )
        )
    return finding(readings, "the plan has no feeds")


RULE = Rule(
    page=PAGE,
    assumption="the net stands at its measured height, and the profile's dispersion is true",
    source="net: ITF Rules of Tennis, Rule 1; margin 0.10 m: design value",
    find=_find,
    limit=LIMIT,
    waivable=True,
)
