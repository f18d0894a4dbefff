"""The plan's bounds on balls, time and speed are those of its tree."""

from __future__ import annotations

from feedscript.diagnostics import Page
from feedscript.plan.canonical import digest
from feedscript.plan.folds.bounds import bounds
from feedscript.safety.analysis.plan_facts import PlanFacts
from feedscript.safety.analysis.rule import Breach, Finding, Rule, Worst

PAGE = Page(
    slug="bounds-differ",
    title="The bounds are not those of the lesson",
    why=(
        "A plan states how many balls any run may send, how long it may take and how fast its "
        "fastest ball is. They are worked out again over the tree and must be the same. A plan "
        "that was changed by hand is refused. Never waived."
    ),
)


def _find(facts: PlanFacts) -> Finding:
    stated, found = facts.plan.bounds, bounds(facts.plan)
    words = (
        f"{found.balls[0]} to {found.balls[1]} balls, {found.time_s[0]:g} to "
        f"{found.time_s[1]:g} s, at most {found.fastest_mps:.1f} m/s"
    )
    if found.repeated_balls is not None:
        words += f"; with every repeat {found.repeated_balls} balls, {found.repeated_s:g} s"
    if digest(stated) == digest(found):
        return Finding(Worst(words))
    message = f"the lesson has {words}; the plan states other bounds"
    return Finding(Worst(words), (Breach(message, "make the plan again from its program"),))


RULE = Rule(
    page=PAGE,
    assumption="the time that people take is not counted",
    source="worked out over the plan's tree",
    find=_find,
)
