"""The most balls that each player may get, on any run of the plan."""

from __future__ import annotations

from collections.abc import Sequence

import msgspec

from feedscript.override import override
from feedscript.plan.folds.fold import Algebra, Passes
from feedscript.plan.folds.player_fold import PlayerFold
from feedscript.plan.model import Collect, Exercise, Plan, Rest, Send, ShowSpeed, Station, Turns
from feedscript.plan.scene import Player


class Work(msgspec.Struct, frozen=True):
    """Balls outside turns, which a group shares, and balls of the player's own turns."""

    shared: float
    own: float


_NONE = Work(0, 0)


class _Works(Algebra[Work]):
    """How one player's work adds up; ``on``: whether the player is the one on turn."""

    def __init__(self, player: int, on: bool) -> None:
        self._player, self._on = player, on

    @override
    def nothing(self) -> Work:
        return _NONE

    @override
    def send(self, step: Send, feeds: tuple[int, ...]) -> Work:
        return Work(0, 1) if self._on else Work(1, 0)

    @override
    def show_speed(self, step: ShowSpeed) -> Work:  # nobody plays it
        return _NONE

    @override
    def rest(self, step: Rest) -> Work:
        return _NONE

    @override
    def collect(self, step: Collect) -> Work:
        return _NONE

    @override
    def then(self, before: Work, after: Work) -> Work:
        return Work(before.shared + after.shared, before.own + after.own)

    @override
    def either(self, ways: Sequence[Work]) -> Work:
        return Work(max(way.shared for way in ways), max(way.own for way in ways))

    @override
    def passes(self, body: Work, passes: Passes) -> Work:
        return Work(body.shared * passes.most, body.own * passes.most)

    @override
    def any_order(self, items: Sequence[Work]) -> Work:
        return Work(sum(item.shared for item in items), sum(item.own for item in items))

    @override
    def padded(self, body: Work, to_ms: int) -> Work:
        return body

    @override
    def beside(self, stations: Sequence[tuple[Station, Work]], for_ms: int) -> Work:
        own = sum(
            work.own + work.shared / len(station.players)
            for station, work in stations
            if self._player in station.players
        )
        return Work(0, own)

    @override
    def exercise(self, body: Work, step: Exercise) -> Work:
        """With every repeat used."""
        return self.passes(body, Passes.exactly(1 + step.repeats, 0))

    @override
    def turn(self, body: Work, step: Turns) -> Work:
        return body if self._on else _NONE  # in another's turn nothing is shared


def balls_of_each(plan: Plan) -> tuple[float, ...]:
    """The most balls for each player; balls outside turns are shared evenly.

    Where the plan names nobody, somebody gets them.
    """
    if not plan.group.players:
        group = msgspec.structs.replace(plan.group, players=(Player(name="somebody"),))
        return balls_of_each(msgspec.structs.replace(plan, group=group))
    players = len(plan.group.players)
    works = (
        PlayerFold(plan, player, _Works(player, True), _Works(player, False)).whole()
        for player in range(players)
    )
    return tuple(work.own + work.shared / players for work in works)
