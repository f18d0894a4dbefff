"""The balls are of a standard type, and no livelier than the group's stage."""

from __future__ import annotations

from feedscript.diagnostics import Page
from feedscript.flight.ball import ball_named
from feedscript.safety.analysis.plan_facts import PlanFacts
from feedscript.safety.analysis.rule import Breach, Finding, Rule, Worst
from feedscript.safety.examples import example
from feedscript.safety.hazards.who_gets import each_group

PAGE = Page(
    slug="wrong-ball",
    title="Not the ball for this group",
    why=(
        "Slower balls are made so that children meet them at a height and a speed they can play: "
        "the ITF Rules of Tennis (appendix on 10-and-under tennis) recommend the red ball up to 8 "
        "years, orange from 8 to 10, green from 9 to 10. A livelier ball than the group's stage "
        "is refused; a coach may allow one with a reason. Only balls of a standard type have a "
        "known flight."
    ),
    wrong=example(balls="type 2  load 60", group="2 players  stage green"),
    corrected=example(balls="stage green  load 60", group="2 players  stage green"),
)

#: From the slowest to the liveliest.
ORDER = ("red", "orange", "green", "yellow")


def stage_of(kind: str) -> str | None:
    """The stage a ball belongs to; None for a ball that nobody knows."""
    try:
        name = ball_named(kind).name
    except KeyError:
        return None
    return {"red-foam": "red"}.get(name, name if name in ORDER else "yellow")


def _find(facts: PlanFacts) -> Finding:
    kind = facts.plan.balls.kind
    stages = [one.stage for one in each_group(facts.plan.group) if one.stage and one.stage in ORDER]
    wanted = min(stages, key=ORDER.index, default="")
    stage = stage_of(kind)
    if stage is None:
        message = f"nothing is known of the ball {kind!r}"
        fix = "name a standard type: type 1, type 2, type 3, high altitude, green, orange, red"
        return Finding(Worst(message), (Breach(message, fix, part="balls"),))
    if wanted not in ORDER:
        return Finding(Worst(f"{kind} balls, a standard type; the group names no stage"))
    words = f"{kind} balls for a {wanted} group"
    if ORDER.index(stage) <= ORDER.index(wanted):
        return Finding(Worst(words))
    message = f"{kind} balls are livelier than a {wanted} group plays with"
    return Finding(Worst(words), (Breach(message, f"load {wanted} balls", part="balls"),))


RULE = Rule(
    page=PAGE,
    assumption="all balls in the hopper are of the declared type, dry and not split",
    source="ITF Rules of Tennis, appendix on 10-and-under tennis",
    find=_find,
    waivable=True,
)
