"""Where a run stands while a plan is interpreted: time, balls sent, who is on turn, its chance."""

from __future__ import annotations

from collections.abc import Callable
from typing import TypeAlias

import msgspec

from feedscript.plan.interpreter.actions import NOBODY, Stands
from feedscript.plan.interpreter.chance import Draws
from feedscript.plan.model import Plan
from feedscript.plan.scene import kind_fed, left_handed

Source: TypeAlias = Callable[..., Draws]


class LeaveSeries(Exception):  # noqa: N818 - a person's wish, not an error
    """Unwinds to the innermost series."""

    def __init__(self, again: bool) -> None:
        self.again = again


class LeaveLesson(Exception):  # noqa: N818 - a person's wish, not an error
    """Unwinds to the lesson's own steps."""

    def __init__(self, step: int) -> None:
        self.step = step


class AllBallsSent(Exception):  # noqa: N818 - an end, not an error
    """Every ball that the plan's bounds allow has been sent."""


class Sent(msgspec.Struct):
    """Balls sent so far, for each launcher and in all."""

    of: dict[int, int]
    most: int
    total: int = 0

    def count(self, launcher: int) -> int:
        """Number the next ball of this launcher."""
        if self.total >= self.most:
            raise AllBallsSent
        self.total += 1
        self.of[launcher] += 1
        return self.of[launcher]

    def uncount(self, launcher: int) -> None:
        self.total -= 1
        self.of[launcher] -= 1


class Cursor(msgspec.Struct, kw_only=True):
    """Where one run stands, or one station of it: its time, who is on turn, its chance."""

    plan: Plan
    sent: Sent
    station: str
    launcher: int
    players: tuple[int, ...]
    now_ms: int
    source: Source
    chance: Draws
    seeded: dict[int, Draws] = {}
    player: int | None = None
    left: bool = False
    kind: int = 0
    series: int = 0
    down_ms: int = 0  # when the last ball has come down, or people were done; at first the start
    shown: set[int] = set()  # feeds whose speed was watched
    since: int = 1  # the first ball of the turn, station or lesson
    before: dict[int, int] = {}  # at a station: balls of each launcher before it
    first_stands: Stands  # where players stand until they are moved
    stands: dict[tuple[int, int], int] = {}  # where those stand who were moved
    moved: dict[tuple[int, int], int] = {}  # of those, whom this run itself moved

    def draws(self, seed: int | None) -> Draws:
        """The chance of a step: its own seed's stream, or this run's."""
        if seed is None:
            return self.chance
        if seed not in self.seeded:
            self.seeded[seed] = self.source(seed, "step", self.station)
        return self.seeded[seed]

    def so_far(self) -> tuple[int, ...]:
        """The last ball of each launcher that is known here."""
        known = {**self.sent.of, **self.before, self.launcher: self.sent.of[self.launcher]}
        return tuple(known[launcher] for launcher in range(len(self.plan.launchers)))

    def stands_on(self, progression: int, player: int | None) -> int:
        """The rung on which a player stands."""
        key = (progression, NOBODY if player is None else player)
        last = len(self.plan.progressions[progression].rungs) - 1
        return min(self.stands.get(key, self.first_stands.get(key, 0)), last)

    def steps_onto(self, progression: int, player: int | None, rung: int) -> None:
        key = (progression, NOBODY if player is None else player)
        self.stands[key] = self.moved[key] = rung

    @property
    def now_s(self) -> float:
        return self.now_ms / 1000.0


def cursor_at(
    plan: Plan,
    sent: Sent,
    source: Source,
    first_stands: Stands,
    *,
    station: str = "",
    launcher: int = 0,
    players: tuple[int, ...],
    now_ms: int = 0,
    down_ms: int = 0,
) -> Cursor:
    """The cursor of a lesson or of a station as it begins."""
    return Cursor(
        plan=plan,
        sent=sent,
        station=station,
        launcher=launcher,
        players=players,
        now_ms=now_ms,
        source=source,
        first_stands=first_stands,
        chance=source(plan.seed, "lesson", station, now_ms),
        player=players[0] if len(players) == 1 else None,
        left=left_handed(tuple(plan.group.players[index] for index in players)),
        kind=kind_fed(plan.group.players),
        down_ms=down_ms,
        since=sent.of[launcher] + 1,
    )
