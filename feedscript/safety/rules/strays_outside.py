"""The scatter of every landing stays within the court and its run-off."""

from __future__ import annotations

from feedscript.diagnostics import Page
from feedscript.plan.model import AimedFeed
from feedscript.safety.analysis.measurement import Measurement, finding
from feedscript.safety.analysis.plan_facts import PlanFacts
from feedscript.safety.analysis.rule import Finding, Rule
from feedscript.safety.examples import example, fed
from feedscript.safety.hazards.ellipse import half_extents

PAGE = Page(
    slug="strays-outside",
    title="Scatter reaches past the run-off",
    why=(
        "No launcher repeats itself exactly. The ellipse of landings (three standard deviations "
        "unless the program asks for more) must lie between the net and the end of the run-off: "
        "what the program declares behind and beside the court, and where it declares nothing the "
        "rules' guide for club play, 18 ft behind the baseline and 10 ft beside the sideline (ITF "
        "Rules of Tennis, appendix on court plans). Never waived."
    ),
    wrong=example(
        fed(land="0.2 m inside baseline, on centre line", spin="top 300 rpm"),
        court="surface hard  fence 3 m high, 0.5 m behind baseline",
    ),
    corrected=example(
        fed(land="0.2 m inside baseline, on centre line", spin="top 300 rpm"),
        court="surface hard  fence 3 m high, 6.4 m behind baseline",
    ),
)


def _room(facts: PlanFacts) -> tuple[float, float]:
    """How far from the net and from the middle a landing may lie, in m."""
    court, declared = facts.court, facts.plan.court
    deepest = court.half_length_m + court.run_off_back_m
    widest = court.half_width_m + court.run_off_side_m
    if declared.fence_behind_baseline_m is not None:
        deepest = min(deepest, court.half_length_m + declared.fence_behind_baseline_m)
    if declared.side_clearance_m is not None:
        # What stands beside a court stands beside its alleys, where it has any.
        sideline = court.doubles_half_width_m or court.half_width_m
        widest = min(widest, sideline + declared.side_clearance_m)
    return deepest, widest


def _measurement(facts: PlanFacts, index: int, feed: AimedFeed) -> Measurement:
    deepest, widest = _room(facts)
    # The ellipse, or what full-size strays do where flights bend: whichever reaches further.
    reach_x, reach_y = map(
        max, half_extents(feed.scatter, facts.sigma), facts.recomputed[index].reach_m
    )
    x_m, y_m = feed.landing_m
    gaps = {
        "long": deepest - (y_m + reach_y),
        "short, into the net": y_m - reach_y,
        "wide": widest - (abs(x_m) + reach_x),
    }
    way = min(gaps, key=lambda name: gaps[name])
    margin = gaps[way]
    return Measurement(
        value=margin,
        limit=0.0,
        margin=margin,
        unit="m of room left",
        words=f"{feed.name} may stray {way}",
        message=(
            f"{feed.name} may stray {way}: at {facts.sigma:g} sigma its scatter reaches "
            f"{-margin:.2f} m past the room there is"
        ),
        help="move the landing inwards, or send it slower, where this launcher strays less",
        feed=index,
        part="land",
    )


def _find(facts: PlanFacts) -> Finding:
    measurements = [_measurement(facts, index, feed) for index, feed in enumerate(facts.plan.feeds)]
    return finding(measurements, "the plan has no feeds")


RULE = Rule(
    page=PAGE,
    assumption=(
        "the profile's dispersion is true of the launcher and its balls, and normal; an ellipse "
        "of 3 sigma holds 98.9 % of the landings"
    ),
    source="run-off: ITF Rules of Tennis, appendix on court plans; 3 sigma: design value",
    find=_find,
)
