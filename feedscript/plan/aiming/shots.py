"""Which balls a plan must be able to send: every wish, for every launcher that sends it.

A varied wish becomes a fixed number of shots drawn within its bounds, so that a varied lesson
still sends only balls that were aimed and checked before.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence

import msgspec

from feedscript.language.program import (
    ChooseStatement,
    EachPlayerStatement,
    ExerciseStatement,
    FeedWish,
    Program,
    RepeatStatement,
    RotateStatement,
    SendStatement,
    ShowSpeedStatement,
    ShuffleStatement,
    Statement,
    TogetherStatement,
    UntilStatement,
    WhenStatement,
)
from feedscript.plan.interpreter.chance import Chance, stream
from feedscript.plan.places import line_in

#: How many balls stand for a varied wish: enough to feel varied, few enough to look at each.
VARIANTS = 8


class Shot(msgspec.Struct, frozen=True):
    """One ball to be aimed: ``wish`` with its variation already drawn."""

    name: str
    wish: FeedWish
    launcher: int
    line: int  # where the program defines it


class ShotTable(msgspec.Struct, frozen=True):
    """All shots, and which of them stand for a wish at a launcher."""

    shots: tuple[Shot, ...]
    of: Mapping[tuple[str, int], tuple[int, ...]]

    def at_launchers(self, name: str) -> Iterator[tuple[int, ...]]:
        """The shots of one wish, launcher by launcher."""
        return (shots for (wish, _), shots in sorted(self.of.items()) if wish == name)

    def of_wish(self, name: str) -> tuple[int, ...]:
        """The shots of one wish at any launcher."""
        return tuple(index for index, shot in enumerate(self.shots) if shot.wish.name == name)


def shot_table(program: Program, seed: int, left_handers: bool) -> ShotTable:
    """Every shot that the lesson, or an expectation, may need; in the order of the wishes.

    A feed that is only shown, or only named by an expectation, is aimed from the first launcher.
    """
    used: dict[str, set[int]] = {}
    shown: list[str] = []
    for step, launcher in _balls(program.lesson, 0, program):
        if isinstance(step, SendStatement):
            used.setdefault(step.feed, set()).add(launcher)
        else:
            shown.append(step.feed)
    for name in shown:
        used.setdefault(name, {0})
    _add_mirrored(used, program, left_handers)
    shots: list[Shot] = []
    of: dict[tuple[str, int], tuple[int, ...]] = {}
    mirrored = {wish.mirrored for wish in program.feeds.values()}
    for name, wish in program.feeds.items():
        launchers = sorted(used.get(name, set() if name in mirrored else {0}))
        line = line_in(program, wish.span)
        for launcher in launchers:
            own = name if len(launchers) == 1 else f"{name} on {_called(program, launcher)}"
            drawn = _variants(wish, own, seed)
            of[name, launcher] = tuple(range(len(shots), len(shots) + len(drawn)))
            shots += [Shot(called, each, launcher, line) for called, each in drawn]
    return ShotTable(tuple(shots), of)


def _called(program: Program, launcher: int) -> str:
    return program.launchers[launcher].name or f"launcher {launcher + 1}"


def _add_mirrored(used: dict[str, set[int]], program: Program, left_handers: bool) -> None:
    if not left_handers:
        return
    for name in tuple(used):
        other = program.feeds[name].mirrored
        if other is not None:
            used.setdefault(other, set()).update(used[name])


def _balls(
    steps: Sequence[Statement], launcher: int, program: Program
) -> Iterator[tuple[SendStatement | ShowSpeedStatement, int]]:
    """Every step that sends a ball, with the launcher in whose station it stands."""
    for step in steps:
        if isinstance(step, SendStatement | ShowSpeedStatement):
            yield step, launcher
        elif isinstance(step, TogetherStatement):
            for station in step.stations:
                there = launcher_index(program, station.launcher)
                yield from _balls(station.body, there, program)
        else:
            for body in bodies(step):
                yield from _balls(body, launcher, program)


def bodies(step: Statement) -> tuple[tuple[Statement, ...], ...]:
    """The bodies of a step that stays with its launcher."""
    match step:
        case RepeatStatement() | UntilStatement() | RotateStatement() | EachPlayerStatement():
            return (step.body,)
        case ExerciseStatement():
            return (step.body,)
        case WhenStatement():
            return (step.body, step.otherwise)
        case ChooseStatement():
            return tuple(option.body for option in step.options)
        case ShuffleStatement():
            return step.items
        case _:
            return ()


def launcher_index(program: Program, name: str) -> int:
    """Which of the program's launchers has this name; the language has made sure that one does."""
    return next(index for index, launcher in enumerate(program.launchers) if launcher.name == name)


def _variants(wish: FeedWish, name: str, seed: int) -> list[tuple[str, FeedWish]]:
    vary = wish.vary
    if vary is None:
        return [(name, wish)]
    chance = stream(seed if vary.seed is None else vary.seed, "vary", wish.name)
    return [(f"{name} {number}", _varied(wish, chance)) for number in range(1, VARIANTS + 1)]


def _varied(wish: FeedWish, chance: Chance) -> FeedWish:
    """The wish moved by chance within its bounds; the place evenly over its circle."""
    vary = wish.vary
    assert vary is not None
    away = vary.place_m * math.sqrt(chance.fraction())
    turn = 2 * math.pi * chance.fraction()
    faster = vary.speed_mps * (2 * chance.fraction() - 1)
    more_spin = vary.spin_rpm * (2 * chance.fraction() - 1)
    size = math.hypot(wish.top_rpm, wish.side_rpm)
    factor = max(0.0, 1 + more_spin / size) if size else 1.0
    x_m, y_m = wish.land_m
    return msgspec.structs.replace(
        wish,
        land_m=(x_m + away * math.cos(turn), y_m + away * math.sin(turn)),
        speed_mps=None if wish.speed_mps is None else wish.speed_mps + faster,
        top_rpm=wish.top_rpm * factor,
        side_rpm=wish.side_rpm * factor,
    )
