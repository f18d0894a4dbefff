"""After each rise of the fastest ball by a step, its speed is shown again."""

from __future__ import annotations

from feedscript.diagnostics import Page
from feedscript.plan.model import Plan
from feedscript.safety.analysis.limit import Limit, Stricter
from feedscript.safety.analysis.measurement import Measurement, finding
from feedscript.safety.analysis.plan_facts import PlanFacts
from feedscript.safety.analysis.rule import Finding, Rule
from feedscript.safety.examples import example, fed
from feedscript.units import apart

PAGE = Page(
    slug="faster-than-shown",
    title="Much faster than the ball that was shown",
    why=(
        "A shown ball tells nothing of one that is much faster. On every way through the lesson a "
        "feed is at most 4 m/s (design value, about 15 km/h) faster than the fastest ball of its "
        "launcher that was surely shown before it. Never waived."
    ),
    wrong=example(
        more=fed("fast", speed="105 km/h", spin="top 1800 rpm"),
        steps="show speed of deep  rest 9 s  send deep after 6 s  send fast after 6 s",
    ),
    corrected=example(
        more=fed("fast", speed="105 km/h", spin="top 1800 rpm"),
        steps="show speed of fast  rest 9 s  send deep after 6 s  send fast after 6 s",
    ),
)

LIMIT = Limit(default=4.0, unit="m/s", stricter=Stricter.LOWER)


def measured(facts: PlanFacts) -> list[Measurement]:
    """Every feed wherever it is sent after a shown ball."""
    plan, limit = facts.plan, facts.limit(PAGE.slug, LIMIT)
    measurements = []
    for sent in facts.sends:
        if sent.shown_mps <= 0.0:
            continue  # another rule's
        feed = plan.feeds[sent.feed]
        rise = feed.speed_mps - sent.shown_mps
        faster, most = apart(rise * 3.6, limit * 3.6, 1)
        measurements.append(
            Measurement(
                value=rise,
                limit=limit,
                margin=limit - rise,
                unit="m/s",
                words=(
                    f"{feed.name} leaves at {feed.speed_mps:.1f} m/s after a shown ball of "
                    f"{sent.shown_mps:.1f} m/s"
                ),
                message=(
                    f"{feed.name} leaves at {feed.speed_mps * 3.6:.1f} km/h, {faster} km/h faster "
                    f"than any ball surely shown before; {most} km/h is the most"
                ),
                help=f"put `show speed of {feed.wish or feed.name}` before it, best at the start",
                feed=sent.feed,
                line=sent.line,
                part="step",
            )
        )
    return measurements


def _find(facts: PlanFacts) -> Finding:
    found = _one_for_each_launcher(facts.plan, measured(facts))
    return finding(found, "nothing is sent after a shown ball")


def _one_for_each_launcher(plan: Plan, measurements: list[Measurement]) -> list[Measurement]:
    """One report for one missing `show`: that of the fastest ball fixes them all."""
    kept: dict[int, Measurement] = {}
    for measurement in measurements:
        assert measurement.feed is not None
        launcher = plan.feeds[measurement.feed].launcher
        known = kept.setdefault(launcher, measurement)
        if measurement.margin < known.margin:
            kept[launcher] = measurement
    return list(kept.values())


RULE = Rule(
    page=PAGE,
    assumption="a person watches the shown ball and goes on only if it is as expected",
    source="design value",
    find=_find,
    limit=LIMIT,
)
