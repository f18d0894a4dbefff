"""No receiver waits where the program says that no ball may pass."""

from __future__ import annotations

from feedscript.diagnostics import Page
from feedscript.plan.scene import Area
from feedscript.safety.analysis.areas import outside_m
from feedscript.safety.analysis.measurement import Measurement, finding
from feedscript.safety.analysis.plan_facts import PlanFacts
from feedscript.safety.analysis.rule import Finding, Rule
from feedscript.safety.examples import example

PAGE = Page(
    slug="receiver-in-keep-out",
    title="A receiver waits inside a keep-out",
    why=(
        "A keep-out is where people are who do not expect a ball; a receiver is who the ball is "
        "for. Somebody who is told to be both stands in the coach's way with a racket, and one of "
        "the two declarations is a mistake: left and right changed over, or a sign. Never waived."
    ),
    wrong=example(
        group="2 players  level club  receiver 1 m behind baseline, 1.5 m ad of centre mark",
        more='keep out "bench" { between at 1 m, 12 m and at 3 m, 14 m  height 1.5 m }',
    ),
    corrected=example(
        group="2 players  level club  receiver 1 m behind baseline, on centre line",
        more='keep out "bench" { between at 1 m, 12 m and at 3 m, 14 m  height 1.5 m }',
    ),
)


def _measurement(
    facts: PlanFacts, index: int, receiver: tuple[float, float], area: Area
) -> Measurement:
    name = facts.plan.feeds[index].name
    out = outside_m(area.outline_m, receiver)
    place = f"the keep-out {area.name}"
    return Measurement(
        value=out,
        limit=0.0,
        margin=out,
        unit="m",
        words=f"the receiver of {name} waits {abs(out):.2f} m {_side(out)} {place}",
        message=f"the receiver of {name} waits {-out:.2f} m inside {place}",
        help=f"move the receiver out of {area.name}, or {area.name} to where nobody is fed",
        feed=index,
        part="receiver",
    )


def _side(out_m: float) -> str:
    return "inside" if out_m < 0 else "outside"


def _find(facts: PlanFacts) -> Finding:
    measurements = [
        _measurement(facts, index, feed.receiver_m, area)
        for index, feed in enumerate(facts.plan.feeds)
        for area in facts.plan.keep_outs
        if feed.receiver_m is not None
    ]
    return finding(measurements, "no receiver and keep-out are declared together")


RULE = Rule(
    page=PAGE,
    assumption="receivers wait where the program says",
    source="common practice, no source",
    find=_find,
)
