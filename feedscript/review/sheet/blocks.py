"""What of a lesson goes on paper: its exercises, with who is where and what each of them gets.

What stands between the exercises, or in a lesson without any, is a block too; it has no title.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

import msgspec

from feedscript.check.hour import Hour, hour_of
from feedscript.language.program import SuitsDecl
from feedscript.plan.bodies import bodies
from feedscript.plan.folds.bounds import bounds
from feedscript.plan.model import (
    Collect,
    Exercise,
    Plan,
    Say,
    Send,
    ShowSpeed,
    Station,
    Step,
    Together,
    Turns,
)
from feedscript.review.drawing.drawn_flights import DrawnFlight
from feedscript.tongues.terms import MIRRORED

#: Who is on or at a station: indices into the group's players.
Players = tuple[int, ...]


class Fed(msgspec.Struct, frozen=True, eq=False):
    """A kind of ball of a block, and who gets it; ``mirror`` is what left-handers get instead."""

    flight: DrawnFlight
    players: Players
    mirror: Fed | None = None


class Rounds(msgspec.Struct, frozen=True, kw_only=True):
    """Stations side by side: who is at each, round by round."""

    stations: tuple[str, ...]
    works: tuple[tuple[str, ...], ...]  # what players do by themselves there
    lasts_s: tuple[float, ...]  # by round
    players: tuple[tuple[Players, ...], ...]  # by round, then by station
    after: tuple[tuple[Collect, ...], ...]  # by round: what comes before the next one of the table


class Block(msgspec.Struct, frozen=True, kw_only=True, eq=False):
    """An exercise, or the steps between two of them (then ``exercise`` is null)."""

    exercise: Exercise | None
    number: int
    takes_s: float
    balls: tuple[int, int]
    alone: Plan  # the plan with no other step
    launchers: tuple[int, ...]
    fed: tuple[Fed, ...]
    turns: tuple[Players | None, ...]  # who has turns, one after the other; null: everybody
    rounds: tuple[Rounds, ...]
    said: tuple[str, ...]
    then: tuple[Collect, ...] = ()  # breaks and waits for the coach that follow it

    @property
    def minutes_s(self) -> float:
        """The time meant for it; where nobody said, what it takes."""
        planned = None if self.exercise is None else self.exercise.planned_s
        return self.takes_s if planned is None else planned


class Sheet(msgspec.Struct, frozen=True, kw_only=True, eq=False):
    """A lesson as paper shows it."""

    plan: Plan
    flights: tuple[DrawnFlight, ...]
    hour: Hour
    blocks: tuple[Block, ...]
    suits: SuitsDecl


def sheet_of(plan: Plan, flights: Sequence[DrawnFlight], suits: SuitsDecl | None) -> Sheet:
    """A plan's sheet; ``flights`` by the plan's feeds, ``suits`` as the program says."""
    hour = hour_of(plan)
    reader = _Reader(plan, flights, hour)
    return Sheet(
        plan=plan,
        flights=tuple(flights),
        hour=hour,
        blocks=tuple(reader.blocks()),
        suits=SuitsDecl() if suits is None else suits,
    )


class _Reader:
    """Goes once through the steps of a lesson."""

    def __init__(self, plan: Plan, flights: Sequence[DrawnFlight], hour: Hour) -> None:
        self._plan, self._flights = plan, flights
        self._takes_s = {part.title: part.takes_s for part in hour.exercises}
        self._leading = {one.wish: one for one in flights if one.leads}

    def blocks(self) -> list[Block]:
        found: list[Block] = []
        between: list[Step] = []
        for step in self._plan.steps:
            if isinstance(step, Exercise):
                found += self._between(between)
                between = []
                found.append(self._block(step, step.body, sum(map(_titled, found)) + 1))
            elif isinstance(step, Collect) and (step.words or step.break_s):
                found += self._between(between)
                between = []
                found[-1:] = [_followed(one, step) for one in found[-1:]]
            else:
                between.append(step)
        return found + self._between(between)

    def _between(self, steps: Sequence[Step]) -> list[Block]:
        """Steps outside exercises, where they send or say anything to do."""
        if not any(isinstance(step, Send | Together) for step in _inside(steps)):
            return []
        return [self._block(None, steps, 0)]

    def _block(self, exercise: Exercise | None, steps: Sequence[Step], number: int) -> Block:
        within = list(_inside(steps))
        alone = msgspec.structs.replace(self._plan, steps=tuple(steps))
        its = bounds(alone)
        takes_s = its.time_s[1] if exercise is None else self._takes_s[exercise.title]
        fed = self._fed(steps)
        launchers = {one.feed.launcher for one in drawn(fed)}
        return Block(
            exercise=exercise,
            number=number,
            takes_s=takes_s,
            balls=(max(0, its.balls[0] - _shown(within)), its.balls[1] - _shown(within)),
            alone=alone,
            launchers=tuple(sorted(launchers)),
            fed=fed,
            turns=_turns(steps),
            rounds=tuple(_rounds([one for one in within if isinstance(one, Together | Collect)])),
            said=tuple(step.text for step in within if isinstance(step, Say) and not step.players),
        )

    def _fed(self, steps: Sequence[Step]) -> tuple[Fed, ...]:
        """Every wish that is sent, in the order of the picture's letters, and to whom."""
        everybody = tuple(range(len(self._plan.group.players)))
        got: dict[str, set[int]] = {}
        for send, players in _sends(steps, everybody):
            for index in players:
                player = self._plan.group.players[index]
                for feed in send.feeds_on_any_rung(player.kind, left=player.left_handed):
                    got.setdefault(self._flights[feed].wish, set()).add(index)
            if not players:
                for feed in send.all_feeds():
                    got.setdefault(self._flights[feed].wish, set())
        each = {
            wish: Fed(one, tuple(sorted(got[wish])))
            for wish, one in self._leading.items()
            if wish in got
        }
        return tuple(_mirrored(each))


def drawn(fed: Sequence[Fed]) -> list[DrawnFlight]:
    """The flights of a picture: of every kind of ball, and of those that are mirrored."""
    both = [one.flight for one in fed] + [one.mirror.flight for one in fed if one.mirror]
    return sorted(both, key=lambda one: (len(one.style.letter), one.style.letter))


def _mirrored(each: Mapping[str, Fed]) -> Iterator[Fed]:
    """What left-handers get stands with what the others get."""
    for wish, one in each.items():
        mirror = each.get(f"{wish}{MIRRORED}")
        if mirror is not None:
            yield msgspec.structs.replace(one, mirror=mirror)
        elif not wish.endswith(MIRRORED) or wish.removesuffix(MIRRORED) not in each:
            yield one


def _titled(block: Block) -> bool:
    return block.exercise is not None


def _followed(block: Block, by: Collect) -> Block:
    return msgspec.structs.replace(block, then=(*block.then, by))


def _inside(steps: Sequence[Step]) -> Iterator[Step]:
    """Every step, however deep, as they are written."""
    for step in steps:
        yield step
        for body in bodies(step):
            yield from _inside(body)


def _shown(steps: Sequence[Step]) -> int:
    return sum(isinstance(step, ShowSpeed) for step in steps)


def _sends(steps: Sequence[Step], here: Players) -> Iterator[tuple[Send, Players]]:
    """Every ball, and those who may be on for it."""
    for step in steps:
        if isinstance(step, Send):
            yield step, here
        elif isinstance(step, Together):
            for station in step.stations:
                yield from _sends(station.body, station.players)
        else:
            inside = here
            if isinstance(step, Turns) and step.players is not None:
                inside = step.players
            for body in bodies(step):
                yield from _sends(body, inside)


def _turns(steps: Sequence[Step]) -> tuple[Players | None, ...]:
    """Who has turns outside stations, where that changes."""
    found: list[Players | None] = []
    for step in steps:
        if isinstance(step, Together):
            continue
        turns = [step.players] if isinstance(step, Turns) else []
        for body in [] if isinstance(step, Turns) else bodies(step):
            turns += _turns(body)
        found += [one for one in turns if found[-1:] != [one]]
    return tuple(found)


def _rounds(steps: Sequence[Together | Collect]) -> Iterator[Rounds]:
    """Rounds of the same stations in one table, in whatever order each step names them."""
    row: list[Together] = []
    after: list[tuple[Collect, ...]] = []
    for step in steps:
        if isinstance(step, Collect):
            after[-1:] = [(*one, step) for one in after[-1:]]
            continue
        if row and _by_name(row[0]).keys() != _by_name(step).keys():
            yield _table(row, after)
            row, after = [], []
        row.append(step)
        after.append(())
    if row:
        yield _table(row, after)


def _by_name(step: Together) -> dict[str, Station]:
    return {station.name: station for station in step.stations}


def _table(row: Sequence[Together], after: Sequence[tuple[Collect, ...]]) -> Rounds:
    """``after`` the last round of the table comes what is no part of it."""
    names = tuple(station.name for station in row[0].stations)
    return Rounds(
        stations=names,
        works=tuple(
            tuple(dict.fromkeys(said for step in row for said in _works(_by_name(step)[name].body)))
            for name in names
        ),
        lasts_s=tuple(step.for_s for step in row),
        players=tuple(tuple(_by_name(step)[name].players for name in names) for step in row),
        after=(*after[:-1], ()),
    )


def _works(body: Sequence[Step]) -> tuple[str, ...]:
    says = [step for step in _inside(body) if isinstance(step, Say) and step.players]
    return tuple(dict.fromkeys(step.text for step in says))
