"""The receiver of a feed stands where the ball goes, on the far side of the net."""

from __future__ import annotations

from feedscript.diagnostics import Page
from feedscript.plan.model import AimedFeed
from feedscript.safety.analysis.limit import Limit, Stricter
from feedscript.safety.analysis.measurement import Measurement, finding
from feedscript.safety.analysis.plan_facts import PlanFacts
from feedscript.safety.analysis.rule import Finding, Rule
from feedscript.safety.examples import example, fed
from feedscript.units import apart

PAGE = Page(
    slug="receiver-elsewhere",
    title="The receiver is not where the feed goes",
    why=(
        "A feed is aimed for one receiver. If nobody stands where it goes, it runs on to whoever "
        "is behind. The receiver stands past the net and the ball passes within 5 m (design "
        "value: the half width of a court and a step; 80 % of strokes are played within 2.5 m of "
        "the ready position, Fernandez, Mendez-Villanueva & Pluim 2006)."
    ),
    wrong=example(
        fed(land="2 m inside baseline, 1 m inside deuce sideline"),
        group="2 players  level club  receiver 1 m behind baseline, on ad sideline",
    ),
    corrected=example(
        fed(land="2 m inside baseline, 1 m inside deuce sideline"),
        group="2 players  level club  receiver 1 m behind baseline, on centre line",
    ),
)

LIMIT = Limit(default=5.0, unit="m", stricter=Stricter.LOWER)


def _measurement(
    facts: PlanFacts, index: int, feed: AimedFeed, receiver: tuple[float, float]
) -> Measurement:
    limit = facts.limit(PAGE.slug, LIMIT)
    away = facts.arrivals[index].away_m
    assert away is not None
    if receiver[1] <= 0:
        message = f"the receiver of {feed.name} stands on the launcher's side of the net"
        margin = receiver[1] - 0.01
    else:
        passes, most = apart(away, limit, 2)
        message = f"{feed.name} passes its receiver at {passes} m; {most} m is the most"
        margin = limit - away
    return Measurement(
        value=away,
        limit=limit,
        margin=margin,
        unit="m",
        words=f"{feed.name} passes its receiver at {away:.2f} m",
        message=message,
        help="move the receiver to where the ball goes, or the landing to the receiver",
        feed=index,
        part="receiver",
    )


def _find(facts: PlanFacts) -> Finding:
    measurements = [
        _measurement(facts, index, feed, feed.receiver_m)
        for index, feed in enumerate(facts.plan.feeds)
        if feed.receiver_m is not None
    ]
    return finding(measurements, "the program does not say where receivers wait")


RULE = Rule(
    page=PAGE,
    assumption="the receiver waits where the program says",
    source="design value",
    find=_find,
    limit=LIMIT,
    waivable=True,
)
