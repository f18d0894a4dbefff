"""No feed leaves over the fence at the court's end."""

from __future__ import annotations

from feedscript.diagnostics import Page
from feedscript.safety.analysis.limit import Limit, Stricter
from feedscript.safety.analysis.measurement import Measurement, finding
from feedscript.safety.analysis.plan_facts import PlanFacts
from feedscript.safety.analysis.rule import Breach, Finding, Rule, Worst
from feedscript.safety.examples import example
from feedscript.safety.hazards.gaps import height_at_m
from feedscript.units import apart

PAGE = Page(
    slug="over-fence",
    title="Over the fence",
    why=(
        "Behind the fence people have no warning. Where the ball reaches the fence before its "
        "second bounce, its upper edge at the high end of its scatter stays below the top with "
        "0.3 m to spare (design value). Never waived."
    ),
    wrong=example(court="surface hard  fence 1 m high, 2 m behind baseline"),
    corrected=example(court="surface hard  fence 3 m high, 2 m behind baseline"),
)

LIMIT = Limit(default=0.3, unit="m", stricter=Stricter.HIGHER)


def _gap_unknown() -> Finding:
    message = "the fence's height is declared, but not how far behind the baseline it stands"
    return Finding(
        Worst(message),
        (Breach(message, "add the distance of the fence behind the baseline to court"),),
    )


def _find(facts: PlanFacts) -> Finding:
    height, gap = facts.plan.court.fence_height_m, facts.plan.court.fence_behind_baseline_m
    if height is None:
        return finding([], "no fence is declared: what lies behind the court is not judged")
    if gap is None:
        return _gap_unknown()
    limit = facts.limit(PAGE.slug, LIMIT)
    fence_y = facts.court.half_length_m + gap
    measurements = []
    for index, feed in enumerate(facts.plan.feeds):
        top = height_at_m(facts.envelopes[index], fence_y)
        room = height - top
        reaches, _ = apart(top, height - limit, 2)
        measurements.append(
            Measurement(
                value=room,
                limit=limit,
                margin=room - limit,
                unit="m",
                words=f"{feed.name} reaches the fence {top:.2f} m high, of {height:g} m",
                message=(
                    f"{feed.name} reaches the fence {reaches} m high at {facts.sigma:g} sigma; the "
                    f"fence is {height:g} m and {limit:g} m is kept"
                ),
                help="land it shorter, slower or with less bounce",
                feed=index,
                part="land",
            )
        )
    return finding(measurements, "the plan has no feeds")


RULE = Rule(
    page=PAGE,
    assumption="the fence stands as declared; what rebounds from it is not followed",
    source="margin 0.3 m: design value",
    find=_find,
    limit=LIMIT,
)
