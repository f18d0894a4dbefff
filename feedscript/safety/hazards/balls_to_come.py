"""The balls that may still come, from a step of the lesson on: whose they are, and how many."""

from __future__ import annotations

from collections.abc import Sequence

import msgspec

from feedscript.override import override
from feedscript.plan.folds.fold import Algebra, Fold, Passes
from feedscript.plan.model import Collect, Plan, Rest, Send, ShowSpeed, Station, Turns


class ToCome(msgspec.Struct, frozen=True):
    """What may still come: turns, the most balls in one, and balls that the group shares."""

    turns: int
    in_one: float
    shared: float


class _BallsToCome(Algebra[ToCome]):
    """How they add up in a group of so many players."""

    def __init__(self, players: int) -> None:
        self._players = players

    @override
    def nothing(self) -> ToCome:
        return ToCome(0, 0, 0)

    @override
    def send(self, step: Send, feeds: tuple[int, ...]) -> ToCome:
        return ToCome(0, 0, 1)

    @override
    def show_speed(self, step: ShowSpeed) -> ToCome:  # nobody plays it
        return self.nothing()

    @override
    def rest(self, step: Rest) -> ToCome:
        return self.nothing()

    @override
    def collect(self, step: Collect) -> ToCome:
        return self.nothing()

    @override
    def then(self, before: ToCome, after: ToCome) -> ToCome:
        return ToCome(
            before.turns + after.turns,
            max(before.in_one, after.in_one),
            before.shared + after.shared,
        )

    @override
    def either(self, ways: Sequence[ToCome]) -> ToCome:
        return ToCome(
            max(way.turns for way in ways),
            max(way.in_one for way in ways),
            max(way.shared for way in ways),
        )

    @override
    def passes(self, body: ToCome, passes: Passes) -> ToCome:
        return ToCome(body.turns * passes.most, body.in_one, body.shared * passes.most)

    @override
    def any_order(self, items: Sequence[ToCome]) -> ToCome:
        whole = self.nothing()
        for item in items:
            whole = self.then(whole, item)
        return whole

    @override
    def padded(self, body: ToCome, to_ms: int) -> ToCome:
        return body

    @override
    def beside(self, stations: Sequence[tuple[Station, ToCome]], for_ms: int) -> ToCome:
        """Turns add up over stations; what a station shares out goes to those who stand there."""
        most = [each.shared / max(1, len(station.players)) for station, each in stations]
        return ToCome(
            sum(each.turns for _, each in stations),
            max((each.in_one for _, each in stations), default=0),
            max(most, default=0) * self._players,
        )

    @override
    def turn(self, body: ToCome, step: Turns) -> ToCome:
        return ToCome(1, body.in_one + body.shared, 0)


def balls_to_come(plan: Plan, players: int, step: int, slots_left: int | None) -> ToCome:
    """What may still come from this step on, by its index.

    ``slots_left``: the turns of that step that may still be given, where it consists of turns.
    """
    algebra = _BallsToCome(players)
    come = algebra.nothing()
    for number, each in enumerate(plan.steps[step:]):
        left = each
        if number == 0 and isinstance(each, Turns) and slots_left is not None:
            left = msgspec.structs.replace(each, slots=min(each.slots, slots_left))
        whole = Fold(msgspec.structs.replace(plan, steps=(left,)), algebra).whole()
        come = algebra.then(come, whole)
    return come
