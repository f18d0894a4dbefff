"""How long a part of a lesson takes, before the whole plan is there."""

from __future__ import annotations

from collections.abc import Sequence

import msgspec

from feedscript.language import program as said
from feedscript.plan.folds.bounds import Extent, Extents
from feedscript.plan.folds.fold import Context, Fold
from feedscript.plan.model import Plan, Station, Step


class At(msgspec.Struct, frozen=True):
    """Where a step stands: its launcher, its players, and in which station.

    ``fixed``: the program says who is at the station, so nobody else takes a turn there.
    """

    launcher: int
    players: tuple[int, ...]
    station: said.StationStatement | None = None
    fixed: bool = False


class Lengths:
    """How long bodies of a plan's lesson take, and how many balls, for whoever may be there."""

    def __init__(self, scene: Plan) -> None:
        self._hands = {player.left_handed for player in scene.group.players} or {False}
        self._fold = Fold(scene, Extents(scene))

    def longest_ms(self, body: Sequence[Step], at: At) -> int:
        """The most that one run of the body takes."""
        return max(one.time_ms.most for one in self._extents(body, at.launcher))

    def most_balls(self, body: Sequence[Step], at: At) -> int:
        """The most balls of one run of the body."""
        return max(one.balls.most for one in self._extents(body, at.launcher))

    def _extents(self, body: Sequence[Step], launcher: int) -> list[Extent]:
        """The extent of the body for a right-hander, a left-hander, or either."""
        return [self._fold.steps(body, Context(left, launcher)) for left in self._hands]

    def fixed_ms(self, step: Step, station: Station) -> int | None:
        """How long a step takes, where that is the same in every run."""
        extents = self._extents((step,), station.counted)
        times = {time for one in extents for time in (one.time_ms.least, one.time_ms.most)}
        return times.pop() if len(times) == 1 else None
