"""Whether a ball may come so soon after the one before, for someone who still chooses when."""

from __future__ import annotations

import math
from collections.abc import Sequence

import msgspec

from feedscript.plan.folds.change_overs import change_overs, meetings
from feedscript.safety.analysis.measurement import Measurement
from feedscript.safety.analysis.plan_facts import PlanFacts
from feedscript.safety.rules import least_interval, short_change_over, too_soon


class SoSoon(msgspec.Struct, frozen=True):
    """``spare_s``: how much sooner it might come, as far as the rules' own figures tell (negative:
    how much later it must). ``against``: what is said against it now; empty where nothing is."""

    spare_s: float
    against: str


def so_soon(facts: PlanFacts, feeds: frozenset[int], line: int) -> SoSoon:
    """How soon these feeds come on this line, for the launcher and for whoever is on next."""
    every = _measured(facts, feeds, line)
    spare_s = min((one.margin for one in every), default=math.inf)
    broken = [one for one in every if one.broken]
    return SoSoon(spare_s, broken[0].message if broken else "")


def _measured(facts: PlanFacts, feeds: frozenset[int], line: int) -> list[Measurement]:
    """By rule, what is nearest to its limit first."""
    pairs = [
        pair
        for launcher in sorted({facts.plan.feeds[feed].launcher for feed in feeds})
        for pair in facts.pairs_of(launcher)
        if pair.after in feeds and pair.line == line
    ]
    found = [too_soon.measured(facts, pairs), least_interval.measured(facts, pairs)]
    if not short_change_over.RULE.set_aside(facts):
        changes = change_overs(facts.plan, facts.of_steps("change-overs", meetings))
        here = [one for one in changes if one.after in feeds and one.line == line]
        found.append(short_change_over.measured(facts, here))
    return [one for rule in found for one in _nearest_first(rule)]


def _nearest_first(measurements: Sequence[Measurement]) -> list[Measurement]:
    return sorted(measurements, key=lambda one: one.margin)
