"""A guide: how long anybody plays without a break."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from feedscript.diagnostics import Page, Severity
from feedscript.override import override
from feedscript.plan.folds.fold import Fold
from feedscript.plan.model import Plan, Rest, Send, ShowSpeed, Station, Turns
from feedscript.safety.analysis.limit import Limit, Stricter
from feedscript.safety.analysis.measurement import Measurement, finding
from feedscript.safety.analysis.plan_facts import PlanFacts
from feedscript.safety.analysis.rule import Finding, Rule
from feedscript.safety.examples import example
from feedscript.safety.hazards.heaviest_segment import (
    CUT,
    EMPTY,
    Segment,
    Segments,
    heaviest_line,
    weighing,
)
from feedscript.safety.hazards.who_gets import lowest
from feedscript.safety.hazards.young import by_stage
from feedscript.units import apart

PAGE = Page(
    slug="long-series",
    title="A long series without a break",
    why=(
        "Points are short: 4 to 10 s of work, 10 to 20 s of rest (Fernandez, Mendez-Villanueva & "
        "Pluim 2006, Br. J. Sports Med. 40:387-391). A feeding series used in research ran 120 s "
        "with 90 s of rest (J. Sports Sci. Med. 10:540, 2011). A series longer than 120 s without "
        "a gap of 10 s is noted; green 105 s, orange 90 s, red 60 s are design values, and `ages` "
        "of up to 10, 9 and 8 count as these stages. A guide: it refuses nothing; the coach, who "
        "sees the player, decides."
    ),
    severity=Severity.WARNING,
    wrong=example(steps="show speed of deep  repeat 40 { send deep after 4 s }"),
    corrected=example(
        steps="show speed of deep  repeat 2 { repeat 20 { send deep after 4 s }  rest 30 s }"
    ),
)

#: A gap of at least this is a break: the short end of the rest between points in play.
BREAK_S = 10.0
STAGE_S: Mapping[str, float] = {"red": 60.0, "orange": 90.0, "green": 105.0}
FULL_COURT_S = 120.0


class _Seconds(Segments):
    """Seconds of play; a pause of a break's length cuts, and so does a change of player."""

    @override
    def send(self, step: Send, feeds: tuple[int, ...]) -> Segment:
        return CUT if step.after_s[0] >= BREAK_S else weighing(step.after_s[1])

    @override
    def show_speed(self, step: ShowSpeed) -> Segment:
        return CUT

    @override
    def rest(self, step: Rest) -> Segment:
        return CUT if step.seconds >= BREAK_S else weighing(step.seconds)

    def __init__(self, *, alone: bool) -> None:
        self._alone = alone

    @override
    def turn(self, body: Segment, step: Turns) -> Segment:
        # One who is alone has every turn, and no change of player is a break.
        return body if step.slots < 2 or self._alone else self.then(body, CUT)

    @override
    def beside(self, stations: Sequence[tuple[Station, Segment]], for_ms: int) -> Segment:
        return self.either([body for _, body in stations]) if stations else EMPTY


def longest_s(plan: Plan, *, alone: bool = False) -> float:
    """The longest series that one player may have without a break, on any run.

    ``alone``: so few are here that everybody is on in every turn.
    """
    return Fold(plan, _Seconds(alone=alone)).whole().most


LIMIT = Limit(default=FULL_COURT_S, unit="s", stricter=Stricter.LOWER)


def own_limit(facts: PlanFacts) -> float:
    """The guide's figure for this group whatever the program asks."""
    return lowest(facts.plan.group, lambda group: by_stage(group, STAGE_S, FULL_COURT_S))


def most_s(facts: PlanFacts) -> float:
    """The guide's figure for this lesson."""
    return min(own_limit(facts), facts.limit(PAGE.slug, LIMIT))


def _find(facts: PlanFacts) -> Finding:
    limit = most_s(facts)
    longest = longest_s(facts.plan)
    plays, guide = apart(longest, limit, 0)
    measurement = Measurement(
        value=longest,
        limit=limit,
        margin=limit - longest,
        unit="s",
        words=f"the longest series without a break is {longest:.0f} s",
        message=f"somebody may play {plays} s without a break; the guide is {guide} s",
        help=f"put a rest of {BREAK_S:g} s or more into the series, or a change of player",
        line=heaviest_line(facts.plan, _Seconds(alone=False)) if facts.plan.steps else None,
        part="block",
    )
    return finding([measurement], "")


RULE = Rule(
    page=PAGE,
    assumption="outside turns one player takes every ball",
    source="Fernandez et al. 2006; J. Sports Sci. Med. 10:540 (2011); stages: design value",
    find=_find,
    limit=LIMIT,
    own_limit=own_limit,
    guide=True,
)
