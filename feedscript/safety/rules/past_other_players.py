"""No ball's corridor passes through the players of another station."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence

import msgspec

from feedscript.diagnostics import Page
from feedscript.plan.model import AimedFeed
from feedscript.plan.scene import Area
from feedscript.safety.analysis.areas import Stay, measured_stays, square
from feedscript.safety.analysis.limit import Limit, Stricter
from feedscript.safety.analysis.measurement import Measurement, finding
from feedscript.safety.analysis.plan_facts import PlanFacts
from feedscript.safety.analysis.rule import Breach, Finding, Rule, nothing
from feedscript.safety.examples import fed, two_stations

PAGE = Page(
    slug="past-other-players",
    title="A ball passes through another station's players",
    why=(
        "Players at one station watch their own launcher. A feed's corridor stays 0.2 m outside a "
        "square of 2 m around where the receivers of every station beside it wait, up to 2.2 m (a "
        "person with a raised arm); these are design values. So it does where another launcher's "
        "ball leaves so soon before or after it that both may fly. Each of these feeds says where "
        "its receiver waits: a place that is not known is not kept free. Never waived."
    ),
    wrong=two_stations(
        fed("left", land="at -2.5 m, 9 m", speed="76 km/h", also="receiver at -2.5 m, 13 m"),
        fed("right", land="at 2.5 m, 9 m", speed="76 km/h", also="receiver at -1.5 m, 13 m"),
    ),
    corrected=two_stations(
        fed("left", land="at -2.5 m, 9 m", speed="76 km/h", also="receiver at -2.5 m, 13 m"),
        fed("right", land="at 2.5 m, 9 m", speed="76 km/h", also="receiver at 2.5 m, 13 m"),
    ),
)

LIMIT = Limit(default=0.2, unit="m", stricter=Stricter.HIGHER)


def _waiting(feed: AimedFeed) -> Area | None:
    if feed.receiver_m is None:
        return None
    return square(f"the receiver of {feed.name}", feed.receiver_m, feed.line)


def stays(facts: PlanFacts) -> list[Stay]:
    """Every feed beside the places of those who wait at other stations."""
    return stays_of(facts.plan.feeds, facts.at_once)


def stays_of(feeds: Sequence[AimedFeed], at_once: Iterable[tuple[int, int]]) -> list[Stay]:
    """Each of two feeds, of those that may fly at the same time, beside where the other's receiver
    waits."""
    found = set()
    for pair in at_once:
        for flying, waiting in (pair, pair[::-1]):
            area = _waiting(feeds[waiting])
            if area is not None:
                found.add(Stay(flying, area, "place of"))
    return sorted(found, key=lambda stay: (stay.feed, stay.area.name))


def measured(facts: PlanFacts, every: Sequence[Stay]) -> list[Measurement]:
    """Each of these feeds beside its place, the nearest as closely as it matters."""
    return measured_stays(facts, every, facts.limit(PAGE.slug, LIMIT))


def _unsaid(facts: PlanFacts) -> Iterator[Breach]:
    """The feeds beside others that do not say where their receivers wait."""
    feeds = facts.plan.feeds
    for index in sorted({one for pair in facts.at_once for one in pair}):
        if feeds[index].receiver_m is None:
            message = (
                f"{feeds[index].name} does not say where its receiver waits, and another "
                "launcher's ball may fly at the same time"
            )
            help_text = "add `receiver …` to the feed, so that the place is kept free"
            yield Breach(message, help_text, feed=index)


def _find(facts: PlanFacts) -> Finding:
    if not facts.at_once:
        return nothing("no balls of two launchers fly at the same time")
    found = finding(
        measured(facts, stays(facts)), "no station beside another says where its receivers wait"
    )
    return msgspec.structs.replace(found, breaches=(*found.breaches, *_unsaid(facts)), silent=False)


RULE = Rule(
    page=PAGE,
    assumption="players wait within 1 m of the place that the program gives their feeds",
    source="square, height and margin: design values",
    find=_find,
    limit=LIMIT,
)
