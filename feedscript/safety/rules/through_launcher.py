"""No ball passes where another launcher stands, with the person who arms it."""

from __future__ import annotations

import msgspec

from feedscript.diagnostics import Page
from feedscript.plan.scene import PERSON_M, Area, PlacedLauncher
from feedscript.safety.analysis.areas import Stay, square, stay_clear
from feedscript.safety.analysis.limit import Limit, Stricter
from feedscript.safety.analysis.plan_facts import PlanFacts
from feedscript.safety.analysis.rule import Finding, Rule
from feedscript.safety.examples import example


def second(place: str) -> str:
    """Another launcher."""
    return f'launcher east {{ profile "garage.toml"  stands {place} }}'


PAGE = Page(
    slug="through-launcher",
    title="A ball passes another launcher",
    why=(
        "With several launchers on court somebody stands at one of them to arm or to fill it "
        "while another may feed. Every corridor stays 0.2 m outside a square of 2 m around each "
        "other launcher, up to 2.2 m (a person with a raised arm). A mouth higher than 1.5 m "
        "stands on something, and so does whoever fills it: there it is 2.2 m above the mouth. "
        "These are design values. Never waived."
    ),
    wrong=example(
        launcher_name="west", more=second("2.4 m inside baseline, 0.5 m ad of centre mark")
    ),
    corrected=example(
        launcher_name="west", more=second("1 m behind baseline, 3 m ad of centre mark")
    ),
)

LIMIT = Limit(default=0.2, unit="m", stricter=Stricter.HIGHER)
#: A launcher whose mouth is no higher stands on the ground, and so does whoever fills it.
_ON_GROUND_M = 1.5


def _around(launcher: PlacedLauncher) -> Area:
    """The ground of a launcher and of whoever is at it, and how high both reach. How high the
    platform is nobody says; no higher than the mouth."""
    area = square(launcher.name, launcher.mouth_m[:2], launcher.line)
    mouth_m = launcher.mouth_m[2]
    # Written so that what is not a number counts as high.
    if mouth_m <= _ON_GROUND_M:
        return area
    return msgspec.structs.replace(area, height_m=mouth_m + PERSON_M)


def stays(facts: PlanFacts) -> list[Stay]:
    """Every feed beside every launcher but its own."""
    return [
        Stay(index, _around(launcher), "launcher")
        for index, feed in enumerate(facts.plan.feeds)
        for number, launcher in enumerate(facts.plan.launchers)
        if number != feed.launcher
    ]


def _find(facts: PlanFacts) -> Finding:
    return stay_clear(facts, stays(facts), facts.limit(PAGE.slug, LIMIT), "there is one launcher")


RULE = Rule(
    page=PAGE,
    assumption="whoever arms or fills a launcher stands within 1 m of it",
    source="square, height and margin: design values",
    find=_find,
    limit=LIMIT,
)
