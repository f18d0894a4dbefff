"""A fold that follows one player: whose turn it is decides what a ball is worth.

While the player is on turn, steps are worth what the algebra ``mine`` says; otherwise what
``others`` says, in which a ball is only time. A group of one is always on turn.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Generic, TypeVar

from feedscript.override import override
from feedscript.plan.folds.fold import Algebra, Context, Fold, Passes, alike
from feedscript.plan.model import Plan, Station, Step, Together, Turns
from feedscript.plan.scene import kind_fed, left_handed
from feedscript.plan.times import milliseconds

T = TypeVar("T")


class _Following(Fold[T]):
    """The fold of steps during one state of the turn; ``follow`` knows the other state."""

    def __init__(self, plan: Plan, algebra: Algebra[T], follow: PlayerFold[T]) -> None:
        super().__init__(plan, algebra)
        self.follow = follow

    @override
    def _turns(self, step: Turns, context: Context) -> T:
        return self.follow.turns(step, context, self.algebra)

    @override
    def _together(self, step: Together) -> T:
        return self.follow.together(step, self.algebra)


class PlayerFold(Generic[T]):
    """Follows ``player`` through a plan."""

    def __init__(self, plan: Plan, player: int, mine: Algebra[T], others: Algebra[T]) -> None:
        self._plan, self._player = plan, player
        self._on = _Following(plan, mine, self)
        self._off = _Following(plan, others, self)
        its = plan.group.players[player]
        self._mine = [(its.left_handed, its.kind)]
        self._here: tuple[int, ...] = tuple(range(len(plan.group.players)))

    def whole(self) -> T:
        """The worth of the lesson to this player."""
        players = self._plan.group.players
        context = Context(left_handed(players), 0, kind_fed(players))
        return self._begin(self._here).steps(self._plan.steps, context)

    def step(self, step: Step) -> T:
        """The worth of one of the lesson's own steps to this player."""
        players = self._plan.group.players
        context = Context(left_handed(players), 0, kind_fed(players))
        return self._begin(self._here).step(step, context)

    def _begin(self, players: tuple[int, ...]) -> _Following[T]:
        return self._on if players == (self._player,) else self._off

    def turns(self, step: Turns, context: Context, algebra: Algebra[T]) -> T:
        """The turns of the players here, one after the other."""
        worth = algebra.nothing()
        here = self._here if step.players is None else step.players
        for slot in range(step.slots):
            on = bool(here) and here[slot % len(here)] == self._player
            worth = algebra.then(worth, self._turn(step, context, on))
        return worth

    def _turn(self, step: Turns, context: Context, on: bool) -> T:
        fold = self._on if on else self._off
        ways = [
            fold.steps(step.body, Context(left, context.launcher, kind))
            for left, kind in (self._mine if on else alike(self._plan, step, context))
        ]
        turn = fold.algebra.either(ways)
        if step.passes < 1:
            turn = fold.algebra.nothing()
        elif step.passes > 1:
            turn = fold.algebra.passes(turn, Passes.exactly(step.passes, context.launcher))
        turn = fold.algebra.turn(turn, step)
        if step.every_s is not None:
            turn = fold.algebra.padded(turn, milliseconds(step.every_s))
        return turn

    def together(self, step: Together, algebra: Algebra[T]) -> T:
        """The stations; the player is at one of them, or at none."""
        for_ms = milliseconds(step.for_s)
        worths: list[tuple[Station, T]] = []
        everyone = self._here
        for station in step.stations:
            self._here = station.players
            worths.append((station, self._station(station, for_ms)))
        self._here = everyone
        return algebra.beside(worths, for_ms)

    def _station(self, station: Station, for_ms: int) -> T:
        there = tuple(self._plan.group.players[index] for index in station.players)
        fold = self._begin(station.players)
        body: Sequence[Step] = station.body
        kind = kind_fed(self._plan.group.players)
        worth = fold.steps(body, Context(left_handed(there), station.counted, kind))
        return fold.algebra.padded(worth, for_ms)
