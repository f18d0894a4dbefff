"""Whoever comes on has time to leave the last ball's way, to come on and to look up."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping

import msgspec

from feedscript.diagnostics import Page
from feedscript.plan.bodies import within
from feedscript.plan.folds.arrivals import arrivals
from feedscript.plan.folds.change_overs import ChangeOver, change_overs, meetings
from feedscript.plan.model import Plan, Together
from feedscript.plan.scene import Group
from feedscript.safety.analysis.limit import Limit, Stricter
from feedscript.safety.analysis.measurement import Measurement, finding
from feedscript.safety.analysis.plan_facts import PlanFacts
from feedscript.safety.analysis.rule import Finding, Rule
from feedscript.safety.examples import example
from feedscript.safety.hazards.stations import feeds_in
from feedscript.safety.hazards.who_gets import each_group

PAGE = Page(
    slug="short-change-over",
    title="Too little time to change over",
    why=(
        "When the last ball of a turn has come down, the next player is called, walks on while "
        "the one before walks off, turns round and looks up; only then may a ball leave. "
        "Whoever is still walking is hit in the back. The time is 4 m (from where those wait "
        "who are next), or the way from one receiver's place to the other where that is longer, "
        "or from the furthest corner of the ground of a station without a launcher to the "
        "receiver's place for whoever worked there before (a feed that does not say where its "
        "receiver waits counts as received where it lands), at the group's pace, and some "
        "seconds to get ready: red 0.8 m/s and 3 s, orange 1 m/s and 3 s, green and beginner "
        "1.2 m/s and 2.5 s, improver 1.4 m/s and 2 s, club 1.6 m/s and 2 s, county 1.8 m/s and "
        "1.5 s, touring 2 m/s and 1.5 s. Where the program names neither stage nor level, the "
        "beginner's figures hold. All are design values. Where the record is asked before the "
        "call, as after `until`, the answer takes 2.5 s of it. A coach whose players stand "
        "ready beside the spot may allow less with a reason."
    ),
    wrong=example(
        group="4 players  level club",
        steps="show speed of deep  for each player { repeat 5 { send deep after 4 s } }",
    ),
    corrected=example(
        group="4 players  level club",
        steps="show speed of deep  for each player { repeat 5 { send deep after 4 s }  rest 4 s }",
    ),
)

#: How far from the spot those wait who are next.
WAITING_M = 4.0


class Walk(msgspec.Struct, frozen=True):
    """How fast a group walks on and off, and how long a player takes to get ready."""

    pace_mps: float
    ready_s: float

    def time_s(self, way_m: float) -> float:
        return self.ready_s + max(way_m, WAITING_M) / self.pace_mps


STAGE_WALKS: Mapping[str, Walk] = {
    "red": Walk(0.8, 3.0),
    "orange": Walk(1.0, 3.0),
    "green": Walk(1.2, 2.5),
}
LEVEL_WALKS: Mapping[str, Walk] = {
    "beginner": Walk(1.2, 2.5),
    "improver": Walk(1.4, 2.0),
    "club": Walk(1.6, 2.0),
    "county": Walk(1.8, 1.5),
    "touring": Walk(2.0, 1.5),
}

LIMIT = Limit(default=LEVEL_WALKS["touring"].time_s(WAITING_M), unit="s", stricter=Stricter.HIGHER)


def walk_of(group: Group) -> Walk:
    """The figures of the slowest here; the slower ones where stage and level both speak."""
    return max(map(_walk, each_group(group)), key=lambda walk: walk.time_s(0.0))


def _walk(group: Group) -> Walk:
    walks = [STAGE_WALKS.get(group.stage or ""), LEVEL_WALKS.get(group.level or "")]
    known = [walk for walk in walks if walk is not None]
    return max(known, key=lambda walk: walk.time_s(0.0), default=LEVEL_WALKS["beginner"])


def own_limit(facts: PlanFacts) -> float:
    """The group's own figure, before the program asks for more."""
    return walk_of(facts.plan.group).time_s(WAITING_M)


def least_anywhere_s(plan: Plan) -> float:
    """What any change-over of a plan takes at least; 0 where the program sets the rule aside."""
    if any(waiver.rule == PAGE.slug for waiver in plan.waivers):
        return 0.0
    asked = [one.value for one in plan.requirements if one.rule == PAGE.slug]
    return max([walk_of(plan.group).time_s(WAITING_M), *asked])


def least_s(
    facts: PlanFacts, before: int, after: int, grounds: frozenset[str] = frozenset()
) -> float:
    """What a change-over from one feed's receiver to the other's takes at least, or from one of
    these grounds, where whoever is on next worked before."""
    way_m = math.dist(_place_m(facts.plan, before), _place_m(facts.plan, after))
    way_m = max([way_m, *(_way_m(facts.plan, name, after) for name in grounds)])
    return max(walk_of(facts.plan.group).time_s(way_m), facts.limit(PAGE.slug, LIMIT))


def _way_m(plan: Plan, ground: str, feed: int) -> float:
    """From the furthest corner of a ground to the feed's receiver, or to where the ball lands."""
    outline = next(area.outline_m for area in plan.keep_outs if area.name == ground)
    to_m = _place_m(plan, feed)
    return max(math.dist(corner, to_m) for corner in outline)


def _place_m(plan: Plan, feed: int) -> tuple[float, float]:
    """Where the feed's receiver waits; where that is not said, where the ball lands."""
    return plan.feeds[feed].receiver_m or plan.feeds[feed].landing_m


def coming_s(plan: Plan) -> dict[str, float]:
    """What it takes at least to come to a station from the grounds of others, by its name."""
    found: dict[str, float] = {}
    if least_anywhere_s(plan) == 0.0:
        return found
    grounds, walk = arrivals(plan), walk_of(plan.group)
    together = (step for step in within(plan.steps) if isinstance(step, Together))
    for station in (one for step in together for one in step.stations):
        for name in grounds.get(id(station), ()):
            ways_m = [_way_m(plan, name, feed) for feed in feeds_in(station.body)]
            takes_s = walk.time_s(max(ways_m, default=0.0))
            found[station.name] = max(found.get(station.name, 0.0), takes_s)
    return found


def _measurement(facts: PlanFacts, change: ChangeOver) -> Measurement:
    feeds = facts.plan.feeds
    before, after = feeds[change.before].name, feeds[change.after].name
    needed = least_s(facts, change.before, change.after, change.grounds)
    short = math.ceil(2.0 * (needed - change.least_s)) / 2.0
    # Rounded away from each other, so that what is asked never reads like what was found.
    found, asked = math.floor(10.0 * change.least_s) / 10.0, math.ceil(10.0 * needed) / 10.0
    comes = f", coming from {' or '.join(sorted(change.grounds))}," if change.grounds else ""
    words = f"whoever is on next{comes} has {found:.1f} s from the call to {after}"
    return Measurement(
        value=change.least_s,
        limit=needed,
        # A plan counts whole milliseconds; a shortage below half of one is none.
        margin=change.least_s - needed + 0.0005,
        unit="s",
        words=words,
        message=f"{words}, after {before} came down; {asked:.1f} s is the least for this group",
        help=f"put `rest {short:g} s` more at the end of the turn, or give the turn longer"
        + _or_say_where(facts.plan, change),
        feed=change.after,
        after_feed=change.before,
        line=change.line or None,
        part="step",
    )


def _or_say_where(plan: Plan, change: ChangeOver) -> str:
    """The other mend, where a place was taken for one that the program could say."""
    unsaid = any(plan.feeds[one].receiver_m is None for one in (change.before, change.after))
    apart = _place_m(plan, change.before) != _place_m(plan, change.after)
    return "; or say with `receiver …` where the players stand" if unsaid and apart else ""


def measured(facts: PlanFacts, changes: Iterable[ChangeOver]) -> list[Measurement]:
    """Each of these change-overs between the plan's feeds."""
    return [_measurement(facts, change) for change in changes]


def _find(facts: PlanFacts) -> Finding:
    changes = change_overs(facts.plan, facts.of_steps("change-overs", meetings))
    return finding(measured(facts, changes), "nobody comes on after somebody else")


RULE = Rule(
    page=PAGE,
    assumption="who is first after a pause stands ready when the coach says go on; a receiver of "
    "whom no place is said plays the ball about where it lands",
    source="design value",
    find=_find,
    limit=LIMIT,
    own_limit=own_limit,
    waivable=True,
)
