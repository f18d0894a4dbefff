"""Which balls a plan must be able to send: every wish, for every launcher that sends it.

A varied wish becomes a fixed number of shots drawn within its bounds, so that a varied lesson
still sends only balls that were aimed and checked before.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping, Sequence
from functools import cached_property
from itertools import chain

import msgspec

from feedscript.language.program import (
    ChooseStatement,
    EachPlayerStatement,
    ExerciseStatement,
    FeedWish,
    ForTimeStatement,
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
from feedscript.plan.kinds import Kind, kind_of, kinds_of
from feedscript.plan.places import line_in

#: How many balls stand for a varied wish: enough to feel varied, few enough to look at each.
VARIANTS = 8


class Shot(msgspec.Struct, frozen=True):
    """One ball to be aimed: ``wish`` with its variation already drawn."""

    name: str
    wish: FeedWish
    launcher: int
    line: int  # where the program defines it
    swing_deg: float = 0.0  # from where a launcher faces that swings by itself


class ShotTable(msgspec.Struct, frozen=True, dict=True):
    """All shots, and which of them stand for a wish at a launcher, by the kind of who gets it.

    Kind 0 has those for whoever waits where the group does.
    """

    shots: tuple[Shot, ...]
    of: Mapping[tuple[str, int, int], tuple[int, ...]]

    def get(self, name: str, launcher: int, kind: int) -> tuple[int, ...]:
        """The shots that a player of this kind gets; none where nobody there is of it."""
        return self.of.get((name, launcher, kind)) or self.of.get((name, launcher, 0), ())

    def at_launchers(self, names: Sequence[str]) -> Iterator[tuple[int, ...]]:
        """The shots of some wishes, launcher by launcher; those of kind 0 where there are any."""
        found: dict[int, list[tuple[int, ...]]] = {}
        for wish in sorted({*names}):
            for launcher, shots in self._first_kinds.get(wish, {}).items():
                found.setdefault(launcher, []).append(shots)
        return (tuple(chain(*its)) for its in found.values())

    @cached_property
    def _first_kinds(self) -> Mapping[str, Mapping[int, tuple[int, ...]]]:
        """For each wish the shots of the first kind at each launcher."""
        found: dict[str, dict[int, tuple[int, ...]]] = {}
        for (wish, launcher, _), shots in sorted(self.of.items()):
            found.setdefault(wish, {}).setdefault(launcher, shots)
        return found

    def of_wish(self, name: str) -> tuple[int, ...]:
        """The shots of one wish at any launcher."""
        return tuple(index for index, shot in enumerate(self.shots) if shot.wish.name == name)


#: A launcher, and the kind of player who gets the ball from there.
_Where = tuple[int, int]


def shot_table(
    program: Program, seed: int, left_handers: bool, swings: Sequence[Sequence[float]]
) -> ShotTable:
    """Every shot that the lesson, or an expectation, may need; in the order of the wishes.

    A feed that is only shown, or only named by an expectation, is aimed from the first launcher.
    ``swings`` has for each launcher the directions (degrees) that stand for its sweep; a feed over
    the sweep has a shot for each.
    """
    used: dict[str, set[_Where]] = {}
    shown: list[str] = []
    for ball in _balls(program.lesson, program):
        if isinstance(ball.step, SendStatement):
            _add_sent(used, program, ball.step, ball)
        else:
            shown += program.rungs_of(ball.step.feed)
    for name in shown:
        used.setdefault(name, {(0, 0)})
    _add_mirrored(used, program, left_handers)
    shots: list[Shot] = []
    of: dict[tuple[str, int, int], tuple[int, ...]] = {}
    mirrored = {wish.mirrored for wish in program.feeds.values()}
    kinds = kinds_of(program.group)
    for name, wish in program.feeds.items():
        where = sorted(used.get(name, set() if name in mirrored else {(0, 0)}))
        line = line_in(program, wish.span)
        several = len({launcher for launcher, _ in where}) > 1
        for launcher, kind in where:
            own = f"{name} on {_called(program, launcher)}" if several else name
            drawn = _variants(wish, own + _for_whom(kinds[kind], kind), seed)
            swung = swings[launcher] if wish.swept else (0.0,)
            own_shots = [
                Shot(
                    called + _to_the_side(turn),
                    _waited_for(each, kinds[kind]),
                    launcher,
                    line,
                    turn,
                )
                for called, each in drawn
                for turn in swung
            ]
            of[name, launcher, kind] = tuple(range(len(shots), len(shots) + len(own_shots)))
            shots += own_shots
    return ShotTable(tuple(shots), of)


def _to_the_side(swing_deg: float) -> str:
    """What a direction of a sweep adds to the name of its feed; nothing where it faces."""
    if not swing_deg:
        return ""
    return f", swung {abs(swing_deg):.2f} degrees {'right' if swing_deg > 0 else 'left'}"


def _for_whom(kind: Kind, number: int) -> str:
    return f" for {', '.join(kind.names)}" if number else ""


def _waited_for(wish: FeedWish, kind: Kind) -> FeedWish:
    """The wish, received where players of this kind wait if it does not say where."""
    if wish.receiver_m is not None or kind.receiver_m is None:
        return wish
    return msgspec.structs.replace(wish, receiver_m=kind.receiver_m)


def _add_sent(
    used: dict[str, set[_Where]], program: Program, step: SendStatement, ball: _Ball
) -> None:
    """What each kind of player who may be on turn gets."""
    for number in ball.kinds:
        kind = kinds_of(program.group)[number]
        name = step.feed_of(kind.level) if number else step.feed
        for wish in program.rungs_of(name):
            apart = kind.receiver_m is not None and program.feeds[wish].receiver_m is None
            used.setdefault(wish, set()).add((ball.launcher, number if apart else 0))


def _called(program: Program, launcher: int) -> str:
    return program.launchers[launcher].name or f"launcher {launcher + 1}"


def _add_mirrored(used: dict[str, set[_Where]], program: Program, left_handers: bool) -> None:
    if not left_handers:
        return
    for name in tuple(used):
        other = program.feeds[name].mirrored
        if other is not None:
            used.setdefault(other, set()).update(used[name])


class _Ball(msgspec.Struct, frozen=True):
    """A step that sends a ball: the launcher in whose station it stands, and the kinds of players
    who may be on turn then."""

    step: SendStatement | ShowSpeedStatement
    launcher: int
    kinds: frozenset[int]


def _balls(steps: Sequence[Statement], program: Program) -> Iterator[_Ball]:
    """Every step that sends a ball."""
    every = range(len(kinds_of(program.group)))
    alike = {kind_of(program.group, name) for name in program.group.names}
    nobody = frozenset(alike) if len(alike) == 1 else frozenset({0})

    def inside(steps: Sequence[Statement], launcher: int, kinds: frozenset[int]) -> Iterator[_Ball]:
        for step in steps:
            if isinstance(step, SendStatement | ShowSpeedStatement):
                yield _Ball(step, launcher, kinds)
            elif isinstance(step, TogetherStatement):
                for station in step.stations:
                    if station.launcher is not None:
                        there = launcher_index(program, station.launcher)
                        yield from inside(station.body, there, kinds)
            else:
                on = kinds
                if isinstance(step, RotateStatement | EachPlayerStatement):
                    on = _on_turn(program, step, every)
                for body in bodies(step):
                    yield from inside(body, launcher, on)

    return inside(steps, 0, nobody)


def _on_turn(
    program: Program, step: RotateStatement | EachPlayerStatement, every: Iterable[int]
) -> frozenset[int]:
    """The kinds of those who may have these turns; who comes late is of kind 0."""
    if isinstance(step, RotateStatement) or step.names is None:
        return frozenset(every)
    named = frozenset(kind_of(program.group, name) for name in step.names)
    return named if step.named else named | {0}


def bodies(step: Statement) -> tuple[tuple[Statement, ...], ...]:
    """The bodies of a step that stays with its launcher."""
    match step:
        case RepeatStatement() | UntilStatement() | RotateStatement() | EachPlayerStatement():
            return (step.body,)
        case ExerciseStatement() | ForTimeStatement():
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
