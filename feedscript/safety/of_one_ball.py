"""What the rules say of balls that are only being tried, for someone who still chooses.

The rules about one ball are the rules themselves; only what would mend a breach is not looked for.
Those about what comes before and after a ball, or flies beside it, stand in ``among_others``. A
program is passed by nothing but the whole check.
"""

from __future__ import annotations

from feedscript.plan.model import AimedFeed
from feedscript.safety.analysis.plan_facts import PlanFacts
from feedscript.safety.rules import (
    into_keep_out,
    into_neighbour,
    lands_outside,
    net_clearance,
    over_fence,
    past_azimuth,
    past_drive,
    past_elevation,
    past_roll,
    past_side_spin,
    past_speed,
    past_spin,
    receiver_elsewhere,
    strays_outside,
    through_launcher,
    too_fast_for_group,
    too_high_for_group,
    under_roof,
)
from feedscript.tongues import terms
from feedscript.tongues.text import _

#: Rules about one ball that look for no fixes.
_PLAIN = (
    past_speed.RULE,
    past_spin.RULE,
    past_side_spin.RULE,
    past_elevation.RULE,
    past_azimuth.RULE,
    past_drive.RULE,
    past_roll.RULE,
    lands_outside.RULE,
    strays_outside.RULE,
    into_neighbour.RULE,
    over_fence.RULE,
    under_roof.RULE,
    into_keep_out.RULE,
    through_launcher.RULE,
    receiver_elsewhere.RULE,
    too_high_for_group.RULE,
)


def refused(facts: PlanFacts) -> tuple[str, ...]:
    """For each feed of the plan why the rules about one ball refuse it; empty where none does."""
    found = [""] * len(facts.plan.feeds)
    for index, feed in enumerate(facts.plan.feeds):
        found[index] = _over_net(facts, index, feed) or _fast(facts, index, feed)
    for rule in _PLAIN:
        facts.memo.go_on()
        if rule.set_aside(facts):
            continue
        for breach in rule.find(facts).breaches:
            if breach.feed is not None:
                found[breach.feed] = found[breach.feed] or breach.message
    return tuple(found)


def _over_net(facts: PlanFacts, index: int, feed: AimedFeed) -> str:
    asked_m = facts.limit(net_clearance.PAGE.slug, net_clearance.LIMIT)
    room_m = facts.recomputed[index].net_room_m
    if room_m >= asked_m or net_clearance.RULE.set_aside(facts):
        return ""
    return _(
        "{feed} passes the net with {room:.2f} m of room at {sigma:g} sigma; {asked:g} m is asked",
        feed=terms.feed(feed.name),
        room=room_m,
        sigma=facts.sigma,
        asked=asked_m,
    )


def _fast(facts: PlanFacts, index: int, feed: AimedFeed) -> str:
    most_mps = too_fast_for_group.limits_mps(facts)[index]
    speed_mps = facts.arrivals[index].speed_mps
    if speed_mps <= most_mps or too_fast_for_group.RULE.set_aside(facts):
        return ""
    return _(
        "{feed} reaches the receiver at {speed:.0f} km/h; "
        "for this group {most:.0f} km/h is the most",
        feed=terms.feed(feed.name),
        speed=speed_mps * 3.6,
        most=most_mps * 3.6,
    )
