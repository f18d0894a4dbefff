"""Before the first ball of a lesson, its launcher's speed has been shown."""

from __future__ import annotations

from feedscript.diagnostics import Page
from feedscript.safety.analysis.measurement import Measurement, finding
from feedscript.safety.analysis.plan_facts import PlanFacts
from feedscript.safety.analysis.rule import Finding, Rule
from feedscript.safety.examples import example

PAGE = Page(
    slug="speed-not-shown",
    title="The first ball is not a shown one",
    why=(
        "Nobody stands in front of a launcher before one of its balls was watched from the side: "
        "a profile may be wrong, a wheel worn, a knob turned. Every launcher begins with "
        "`show speed of`, on every way through the lesson. Common practice, no source. Never "
        "waived."
    ),
    wrong=example(steps="send deep after 6 s"),
    corrected=example(steps="show speed of deep  send deep after 6 s"),
)


def _find(facts: PlanFacts) -> Finding:
    plan = facts.plan
    measurements = []
    for sent in facts.sends:
        feed = plan.feeds[sent.feed]
        first = sent.shown_mps <= 0.0
        measurements.append(
            Measurement(
                value=sent.shown_mps,
                limit=0.0,
                margin=-1.0 if first else 0.0,
                unit="m/s",
                words=(
                    f"{feed.name} may come before any speed was shown"
                    if first
                    else "a speed ball comes first on every way through the lesson"
                ),
                message=f"{feed.name} may leave before a ball of its launcher was shown",
                help=f"put `show speed of {feed.wish or feed.name}` before it",
                feed=sent.feed,
                line=sent.line,
                part="step",
            )
        )
    return finding(_first_of_each_launcher(facts, measurements), "the lesson sends nothing")


def _first_of_each_launcher(facts: PlanFacts, measurements: list[Measurement]) -> list[Measurement]:
    """One report for each launcher: the fix of the first fixes the others."""
    seen: set[int] = set()
    kept = []
    for measurement in measurements:
        assert measurement.feed is not None
        launcher = facts.plan.feeds[measurement.feed].launcher
        if measurement.broken and launcher in seen:
            continue
        if measurement.broken:
            seen.add(launcher)
        kept.append(measurement)
    return kept


RULE = Rule(
    page=PAGE,
    assumption="a person watches the shown ball and goes on only if it is as expected",
    source="common practice, no source",
    find=_find,
)
