"""Before the first ball of a lesson, its launcher's speed has been shown."""

from __future__ import annotations

from feedscript.diagnostics import Page
from feedscript.safety.analysis.case import Case
from feedscript.safety.analysis.measurement import Reading, finding
from feedscript.safety.analysis.rule import Finding, Rule
from feedscript.safety.examples import example
from feedscript.safety.hazards.order import sends

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


def _find(case: Case) -> Finding:
    plan = case.plan
    readings = []
    for sent in sends(plan.steps, plan.feeds, len(plan.launchers)):
        feed = plan.feeds[sent.feed]
        first = sent.shown_mps <= 0.0
        readings.append(
            Reading(
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
    return finding(_first_of_each_launcher(case, readings), "the lesson sends nothing")


def _first_of_each_launcher(case: Case, readings: list[Reading]) -> list[Reading]:
    """One report for each launcher: the fix of the first fixes the others."""
    seen: set[int] = set()
    kept = []
    for reading in readings:
        assert reading.feed is not None
        launcher = case.plan.feeds[reading.feed].launcher
        if reading.broken and launcher in seen:
            continue
        if reading.broken:
            seen.add(launcher)
        kept.append(reading)
    return kept


RULE = Rule(
    page=PAGE,
    assumption="a person watches the shown ball and goes on only if it is as expected",
    source="common practice, no source",
    find=_find,
)
