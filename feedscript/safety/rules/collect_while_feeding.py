"""Nothing is sent while anybody collects or watches a shown ball."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from feedscript.diagnostics import Page
from feedscript.plan.bodies import bodies
from feedscript.plan.model import Collect, ShowSpeed, Step, Together
from feedscript.safety.analysis.plan_facts import PlanFacts
from feedscript.safety.analysis.rule import Breach, Finding, Rule, Worst

PAGE = Page(
    slug="collect-while-feeding",
    title="Balls are collected while others are sent",
    why=(
        "Whoever bends for a ball does not see the next one. While balls are collected, or one is "
        "watched from the side, every launcher is safe: neither may stand in a station beside "
        "others. Common practice, no source. Never waived."
    ),
)


def _pauses(steps: Sequence[Step], beside: bool) -> Iterator[Step]:
    """Every collect and shown ball that stands where something else goes on."""
    for step in steps:
        if beside and isinstance(step, Collect | ShowSpeed):
            yield step
        within = beside or isinstance(step, Together)
        for body in bodies(step):
            yield from _pauses(body, within)


def _find(facts: PlanFacts) -> Finding:
    breaches = []
    for step in _pauses(facts.plan.steps, beside=False):
        what = "balls are collected" if isinstance(step, Collect) else "a speed is shown"
        breaches.append(
            Breach(
                f"{what} at one station while others go on",
                "end the stations first, then collect or show",
                line=step.line,
                part="step",
            )
        )
    words = breaches[0].message if breaches else "every collect and shown ball stands alone"
    return Finding(Worst(words), tuple(breaches))


RULE = Rule(
    page=PAGE,
    assumption="the engine makes every launcher safe at a collect, and a person arms it again",
    source="common practice, no source",
    find=_find,
)
