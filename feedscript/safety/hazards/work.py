"""The most balls that one player may get, on any run of the plan."""

from __future__ import annotations

from collections.abc import Sequence

import msgspec

from feedscript.override import override
from feedscript.plan.folds.fold import Algebra, Fold, Passes
from feedscript.plan.model import Collect, Plan, Rest, Send, ShowSpeed, Station, Turns


class Work(msgspec.Struct, frozen=True):
    """Balls outside turns, which a group shares, and balls that one player gets in turns."""

    shared: float
    own: float


_NONE = Work(0, 0)


class _Works(Algebra[Work]):
    """How work adds up; inside a turn every ball is one player's."""

    def __init__(self, players: int) -> None:
        self._players = players

    @override
    def nothing(self) -> Work:
        return _NONE

    @override
    def send(self, step: Send, feeds: tuple[int, ...]) -> Work:
        return Work(1, 0)

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
        each = [
            body.own + body.shared / max(len(station.players) or self._players, 1)
            for station, body in stations
        ]
        return Work(0, max(each, default=0))

    @override
    def turn(self, body: Work, step: Turns) -> Work:
        # The fold repeats a turn once a slot; of so many slots each player has this share, or
        # one more where they do not come out even.
        rounds = -(-step.slots // self._players)
        return Work(0, (body.shared + body.own) * rounds / step.slots)


def balls_per_player(plan: Plan) -> float:
    """The most balls for one player; balls outside turns are shared evenly."""
    players = max(len(plan.group.players), 1)
    work = Fold(plan, _Works(players)).whole()
    return work.own + work.shared / players
