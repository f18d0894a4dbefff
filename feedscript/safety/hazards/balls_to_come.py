"""The balls that may still come, from a step of the lesson on: whose they are, and how many."""

from __future__ import annotations

import operator
from collections.abc import Mapping, Sequence

import msgspec

from feedscript.override import override
from feedscript.plan.folds.fold import Algebra, Fold, Passes
from feedscript.plan.model import (
    Collect,
    Exercise,
    Plan,
    Rest,
    Send,
    ShowSpeed,
    Station,
    Step,
    Turns,
)


class ToCome(msgspec.Struct, frozen=True):
    """What may still come: turns, the most balls in one, and balls that the group shares.

    ``own``: for each player the balls of turns that the program gives to some only, and so to each
    of these once.
    """

    turns: int
    in_one: float
    shared: float
    own: tuple[float, ...]


class _BallsToCome(Algebra[ToCome]):
    """How they add up in a group of so many players."""

    def __init__(self, players: int) -> None:
        self._players = players

    @override
    def nothing(self) -> ToCome:
        return self._to_come()

    def _to_come(self, turns: int = 0, in_one: float = 0, shared: float = 0) -> ToCome:
        return ToCome(turns, in_one, shared, (0.0,) * self._players)

    @override
    def send(self, step: Send, feeds: tuple[int, ...]) -> ToCome:
        return self._to_come(shared=1)

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
            tuple(map(operator.add, before.own, after.own)),
        )

    @override
    def either(self, ways: Sequence[ToCome]) -> ToCome:
        return ToCome(
            max(way.turns for way in ways),
            max(way.in_one for way in ways),
            max(way.shared for way in ways),
            tuple(map(max, zip(*(way.own for way in ways), strict=True))),
        )

    @override
    def passes(self, body: ToCome, passes: Passes) -> ToCome:
        own = tuple(balls * passes.most for balls in body.own)
        return ToCome(body.turns * passes.most, body.in_one, body.shared * passes.most, own)

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
            self.any_order([each for _, each in stations]).own,
        )

    @override
    def exercise(self, body: ToCome, step: Exercise) -> ToCome:
        """With every repeat used."""
        return self.passes(body, Passes.exactly(1 + step.repeats, 0))

    @override
    def turn(self, body: ToCome, step: Turns) -> ToCome:
        balls = body.in_one + body.shared
        if step.players is None:
            return self._to_come(turns=1, in_one=balls)
        # The fold repeats a turn once a slot, and each of these players has one of them.
        own = tuple(
            balls / step.slots if player in step.players else 0.0 for player in range(self._players)
        )
        return ToCome(0, 0, 0, own)


def balls_to_come(
    plan: Plan,
    players: int,
    step: int,
    slots_left: int | None,
    begun: Mapping[int, int] | None = None,
) -> ToCome:
    """What may still come from this step on, by its index, and of exercises before it.

    ``slots_left``: the turns of that step that may still be given, where it consists of turns.
    ``begun``: how often each step was begun; an exercise may come as often as it has plays left.
    """
    algebra = _BallsToCome(players)
    come = algebra.nothing()
    for number, each in enumerate(plan.steps):
        left = _left_of(each, number, step, slots_left, (begun or {}).get(number, 0))
        if left is not None:
            whole = Fold(msgspec.structs.replace(plan, steps=(left,)), algebra).whole()
            come = algebra.then(come, whole)
    return come


def _left_of(each: Step, number: int, step: int, slots_left: int | None, begun: int) -> Step | None:
    """What may still come of one step; None where nothing may."""
    if isinstance(each, Exercise):
        plays = 1 + each.repeats - begun + (number == step and begun > 0)  # this one is under way
        return msgspec.structs.replace(each, repeats=plays - 1) if plays > 0 else None
    if number < step:
        return None
    if number == step and isinstance(each, Turns) and slots_left is not None:
        return msgspec.structs.replace(each, slots=min(each.slots, slots_left))
    return each
