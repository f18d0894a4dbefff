"""No more balls are loaded than the hopper holds."""

from __future__ import annotations

from feedscript.diagnostics import Page
from feedscript.safety.analysis.measurement import Measurement, finding
from feedscript.safety.analysis.plan_facts import PlanFacts
from feedscript.safety.analysis.rule import Finding, Rule
from feedscript.safety.examples import example

PAGE = Page(
    slug="hopper-overfull",
    title="More balls than the hopper holds",
    why=(
        "Balls heaped over a hopper's rim fall into the court or jam the feed. The profile states "
        "what the hopper holds. Never waived."
    ),
    wrong=example(balls="type 2  load 90"),
    corrected=example(balls="type 2  load 80"),
)


def _find(facts: PlanFacts) -> Finding:
    measurements = []
    for launcher, profile in zip(facts.plan.launchers, facts.profiles, strict=True):
        if launcher.load is None:
            continue
        holds = profile.limits.hopper_balls
        words = f"{launcher.load} balls loaded into a hopper that holds {holds}"
        measurements.append(
            Measurement(
                value=launcher.load,
                limit=holds,
                margin=holds - launcher.load,
                unit="balls",
                words=words,
                message=words,
                help=f"load at most {holds} balls, and collect more often",
                line=launcher.line,
                part="load",
            )
        )
    return finding(measurements, "the program does not say how many balls are loaded")


RULE = Rule(
    page=PAGE,
    assumption="the profile's hopper is the one on court",
    source="the launcher's profile",
    find=_find,
)
