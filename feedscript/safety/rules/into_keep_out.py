"""No ball's corridor enters an area where the program says people are."""

from __future__ import annotations

from feedscript.diagnostics import Page
from feedscript.safety.analysis.areas import Stay, stay_clear
from feedscript.safety.analysis.limit import Limit, Stricter
from feedscript.safety.analysis.plan_facts import PlanFacts
from feedscript.safety.analysis.rule import Finding, Rule
from feedscript.safety.examples import example

PAGE = Page(
    slug="into-keep-out",
    title="A ball's corridor enters a keep-out",
    why=(
        "A keep-out is where somebody stands or walks who does not expect this ball: the coach, "
        "those who collect, a bench. The corridor is the whole way of the ball from the mouth to "
        "its second bounce, as wide and as high as its scatter makes it. Below the keep-out's "
        "height it stays 0.2 m away (design value: half a person's width, since the area is where "
        "feet may be). Never waived."
    ),
    wrong=example(more='keep out "bench" { between at -1 m, 13 m and at 1 m, 14 m  height 1.5 m }'),
    corrected=example(
        more='keep out "bench" { between at 3 m, 13 m and at 5 m, 14 m  height 1.5 m }'
    ),
)

LIMIT = Limit(default=0.2, unit="m", stricter=Stricter.HIGHER)


def stays(facts: PlanFacts) -> list[Stay]:
    """Every feed beside every keep-out."""
    return [
        Stay(index, area, "keep-out")
        for index in range(len(facts.plan.feeds))
        for area in facts.plan.keep_outs
    ]


def _find(facts: PlanFacts) -> Finding:
    return stay_clear(facts, stays(facts), facts.limit(PAGE.slug, LIMIT), "no keep-out is declared")


RULE = Rule(
    page=PAGE,
    assumption=(
        "people stay inside the areas declared for them; after its second bounce a ball rolls and "
        "is not followed"
    ),
    source="margin 0.2 m: design value",
    find=_find,
    limit=LIMIT,
)
