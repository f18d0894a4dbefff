"""On which rung of a progression each player began a lesson and ended it."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from contextlib import suppress

import msgspec

from feedscript.journal import queries
from feedscript.journal.store import Journal
from feedscript.visible import on_one_line


class PlannedProgression(msgspec.Struct, frozen=True):
    """A progression of a lesson's plan: its name, and its feeds from the easiest."""

    name: str
    rungs: tuple[str, ...] = ()


class Climb(msgspec.Struct, frozen=True):
    """A player's way in one progression: the feeds on which they began and ended."""

    player: str
    progression: str
    first: str
    last: str
    rungs: tuple[str, ...]


class _Said(msgspec.Struct, frozen=True):
    progression: str
    feed: str
    player: str | None = None


def climbs_of(
    journal: Journal,
    number: int,
    progressions: Iterable[PlannedProgression],
    players: Sequence[str],
) -> tuple[Climb, ...]:
    """The way of each of these players in each progression: who is not told of began and ended on
    its first rung."""
    said: list[tuple[str, _Said]] = []
    for row in queries.entries_of(journal, number, "stands", "step"):
        with suppress(msgspec.MsgspecError, UnicodeError, RecursionError):
            said.append((row.kind, msgspec.json.decode(row.data, type=_Said)))
    return tuple(
        _climb(progression, player, said)
        for progression in progressions
        if progression.rungs
        for player in players
    )


def _climb(
    progression: PlannedProgression, player: str, said: Sequence[tuple[str, _Said]]
) -> Climb:
    first = last = progression.rungs[0]
    for kind, one in said:
        if one.progression == progression.name and one.player == player:
            last = one.feed
            first = one.feed if kind == "stands" else first
    alone = map(on_one_line, progression.rungs)
    name = on_one_line(progression.name)
    return Climb(player, name, on_one_line(first), on_one_line(last), tuple(alone))
