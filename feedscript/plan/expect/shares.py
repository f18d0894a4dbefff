"""How many balls one player gets: [least, most] over every run."""

from __future__ import annotations

from collections.abc import Sequence

from feedscript.override import override
from feedscript.plan.folds.fold import Algebra, Passes
from feedscript.plan.folds.player_fold import PlayerFold
from feedscript.plan.model import Collect, Plan, Rest, Send, ShowSpeed, Station

_Count = tuple[int, int]


class _Counts(Algebra[_Count]):
    """Balls as (least, most); ``counts``: whether a ball is one of the player's."""

    def __init__(self, counts: bool) -> None:
        self.counts = counts

    @override
    def nothing(self) -> _Count:
        return (0, 0)

    @override
    def send(self, step: Send, feeds: tuple[int, ...]) -> _Count:
        return (1, 1) if self.counts else (0, 0)

    @override
    def show_speed(self, step: ShowSpeed) -> _Count:
        return (0, 0)

    @override
    def rest(self, step: Rest) -> _Count:
        return (0, 0)

    @override
    def collect(self, step: Collect) -> _Count:
        return (0, 0)

    @override
    def then(self, before: _Count, after: _Count) -> _Count:
        return before[0] + after[0], before[1] + after[1]

    @override
    def either(self, ways: Sequence[_Count]) -> _Count:
        return min(way[0] for way in ways), max(way[1] for way in ways)

    @override
    def passes(self, body: _Count, passes: Passes) -> _Count:
        return body[0] * passes.least, body[1] * passes.most

    @override
    def any_order(self, items: Sequence[_Count]) -> _Count:
        return sum(item[0] for item in items), sum(item[1] for item in items)

    @override
    def padded(self, body: _Count, to_ms: int) -> _Count:
        return body

    @override
    def beside(
        self,
        stations: Sequence[tuple[Station, _Count]],
        for_ms: int,
    ) -> _Count:
        return self.any_order([count for _, count in stations])


def balls_of_player(plan: Plan, player: int) -> _Count:
    """Balls sent while this player is on turn."""
    return PlayerFold(plan, player, _Counts(True), _Counts(False)).whole()
