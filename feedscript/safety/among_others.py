"""What the rules say of a ball that is only being tried, among the other balls of its program: what
comes before and after it, whose turn begins with it, and what flies beside it.

Every form that is tried stands beside the feeds of the plan as one more of them, so that each is
flown once, and the pairs of the program are asked about it in its feed's place.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from typing import TypeVar

import msgspec

from feedscript.plan.folds.across import Across, across, down_s
from feedscript.plan.folds.change_overs import ChangeOver, change_overs, meetings
from feedscript.plan.folds.pairs import Pair
from feedscript.plan.model import AimedFeed, Plan
from feedscript.plan.times import milliseconds
from feedscript.safety.analysis.measurement import Measurement
from feedscript.safety.analysis.plan_facts import PlanFacts
from feedscript.safety.hazards.stations import at_once, side_by_side
from feedscript.safety.rules import (
    crossing_corridors,
    faster_than_shown,
    past_other_players,
    short_change_over,
    too_soon,
)

_Pair = TypeVar("_Pair", Pair, ChangeOver, Across)


def refused_among_others(
    facts: PlanFacts, index: int, forms: Sequence[AimedFeed]
) -> tuple[str, ...]:
    """For each form of the feed ``index`` why the rules about several balls would refuse it there;
    empty where none does.

    ``facts`` are of the program as it stands. What is against two other balls is not said, unless
    this form makes it so.
    """
    if not forms:
        return ()
    among = _Among(facts, index, forms)
    return tuple(
        next((one.message for one in among.measured(number, form) if one.broken), "")
        for number, form in enumerate(forms, len(facts.plan.feeds))
    )


class _Among:
    """The pairs of a program of which one ball is tried; asked about each form of it."""

    def __init__(self, facts: PlanFacts, index: int, forms: Sequence[AimedFeed]) -> None:
        self._facts, self._index = facts, index
        plan = facts.plan
        wider = msgspec.structs.replace(plan, feeds=(*plan.feeds, *forms))
        self._wider = PlanFacts(wider, facts.profiles, facts.memo)
        self._pairs = [one for one in facts.pairs if index in (one.before, one.after)]
        self._turns = facts.of_steps("change-overs", meetings).about(index)
        self._beside, self._ways = self._beside_others(forms)
        self._unshown = {(one.feed, one.line) for one in self._too_fast(plan)}
        self._by_speed: dict[float, list[Measurement]] = {}

    def measured(self, number: int, form: AimedFeed) -> Iterator[Measurement]:
        """What is measured with ``form``, the wider plan's ``number``, in the feed's place;
        given up with the memo."""
        self._facts.memo.go_on()
        yield from too_soon.measured(self._wider, self._renumbered(self._pairs, number))
        if not short_change_over.RULE.set_aside(self._facts):
            changes = change_overs(self._with(form), self._turns)
            yield from short_change_over.measured(self._wider, self._renumbered(changes, number))
        yield from self._after_shown(form)
        if self._beside or self._ways:
            yield from self._in_the_air(number, form)

    def _with(self, form: AimedFeed) -> Plan:
        before, after = self._facts.plan.feeds[: self._index], self._facts.plan.feeds[self._index :]
        return msgspec.structs.replace(self._facts.plan, feeds=(*before, form, *after[1:]))

    def _renumbered(self, pairs: Iterable[_Pair], number: int) -> list[_Pair]:
        """The same with ``number`` in the feed's place."""
        own = self._index
        return [
            msgspec.structs.replace(
                one,
                before=number if one.before == own else one.before,
                after=number if one.after == own else one.after,
            )
            for one in pairs
        ]

    # --- after what was shown

    def _too_fast(self, plan: Plan) -> list[Measurement]:
        facts = PlanFacts(plan, self._facts.profiles, self._facts.memo)
        return [one for one in faster_than_shown.measured(facts) if one.broken]

    def _after_shown(self, form: AimedFeed) -> list[Measurement]:
        """What is too fast with this form: the form itself, or what would follow when it is what
        was shown. It hangs on nothing but its speed."""
        if form.speed_mps not in self._by_speed:
            self._by_speed[form.speed_mps] = [
                one
                for one in self._too_fast(self._with(form))
                if one.feed == self._index or (one.feed, one.line) not in self._unshown
            ]
        return self._by_speed[form.speed_mps]

    # --- beside other launchers' balls

    def _beside_others(
        self, forms: Sequence[AimedFeed]
    ) -> tuple[list[tuple[int, int]], list[Across]]:
        """The feeds of other stations, and the ways in which another launcher's ball may fly at the
        same time: as many as there are with the form that stays up longest."""
        if len(self._facts.plan.launchers) < 2:
            return [], []
        beside = self._facts.of_steps("side by side", side_by_side)
        ways = across(self._with(max(forms, key=down_s)))
        return (
            [pair for pair in beside if self._index in pair],
            [one for one in ways if self._index in (one.before, one.after)],
        )

    def _in_the_air(self, number: int, form: AimedFeed) -> Iterator[Measurement]:
        down_ms = milliseconds(down_s(form))
        ways = [
            one
            for one in self._ways
            if one.before != self._index or milliseconds(one.least_gap_s) < down_ms
        ]
        beside = [(sum(pair) - self._index, number) for pair in self._beside]  # its number is last
        pairs = at_once(self._renumbered(ways, number), beside)
        facts = self._wider
        yield from crossing_corridors.measured(facts, crossing_corridors.meetings_of(pairs))
        yield from past_other_players.measured(
            facts, past_other_players.stays_of(facts.plan.feeds, pairs)
        )
