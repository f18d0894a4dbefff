"""Who was in a lesson when, with which hand, and who was called: from the journal's entries."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TypeAlias

import msgspec

from feedscript.journal.queries import entries_of
from feedscript.journal.store import Journal
from feedscript.review.report.waiting import (
    Called,
    LeftAt,
    Waiting,
    stays_of,
    turns_of,
    waits,
)
from feedscript.session.operator.commands import RosterChange
from feedscript.visible import on_one_line


class PlannedPlayer(msgspec.Struct, frozen=True):
    """One player as the plan has them."""

    name: str = ""
    left_handed: bool = False


class PlannedGroup(msgspec.Struct, frozen=True):
    """The group as the plan has it."""

    players: tuple[PlannedPlayer, ...] = ()


class Entry(msgspec.Struct, frozen=True):
    """What is needed here of an entry: a change of the group, a turn that began."""

    change: RosterChange = RosterChange.REST
    player: str | None = None
    left_handed: bool = False
    station: str = ""


Changes: TypeAlias = Sequence[tuple[float, Entry]]


def _entries(journal: Journal, number: int, *kinds: str) -> list[tuple[float, str, Entry]]:
    """Moment, kind and content of the lesson's entries of these kinds, in their order."""
    rows = entries_of(journal, number, *kinds)
    return [(row.utc_s, row.kind, _entry(row.data)) for row in rows]


def _entry(data: str) -> Entry:
    """An entry of another form of the journal says nothing here."""
    try:
        return msgspec.json.decode(data, type=Entry)
    except (msgspec.DecodeError, UnicodeEncodeError):
        return Entry()


def group_changes(journal: Journal, number: int) -> Changes:
    """When somebody came, went or rested, in order."""
    entries = _entries(journal, number, "roster")
    return [(utc_s, change) for utc_s, _, change in entries if change.player]


def left_handed(group: PlannedGroup, changes: Changes) -> frozenset[str]:
    """Who played left-handed: as the program says, and as said of whoever came late."""
    hands = {player.name: player.left_handed for player in group.players}
    for _, change in changes:
        if change.change is RosterChange.JOIN and change.player is not None:
            hands.setdefault(change.player, change.left_handed)
    return frozenset(on_one_line(name) for name, left in hands.items() if left)


def waits_of(
    journal: Journal, number: int, left: Sequence[LeftAt], group: PlannedGroup, changes: Changes
) -> dict[str, Waiting]:
    """How long each player waited, from the turns that were called and the balls that left."""
    called = _called(journal, number)
    moments = [*(one.utc_s for one in called), *(ball.utc_s for ball in left)]
    stays = stays_of(
        (on_one_line(player.name) for player in group.players),
        (
            (utc_s, on_one_line(one.player or ""), one.change is RosterChange.JOIN)
            for utc_s, one in changes
        ),
    )
    return waits(turns_of(called, left, max(moments, default=0.0)), stays)


def _called(journal: Journal, number: int) -> list[Called]:
    called: list[Called] = []
    for utc_s, kind, entry in _entries(journal, number, "turn", "stations-ended"):
        if kind == "turn":
            player = None if entry.player is None else on_one_line(entry.player)
            called.append(Called(utc_s, on_one_line(entry.station), player))
        else:
            stations = {one.station for one in called} - {""}
            called += [Called(utc_s, station, None) for station in sorted(stations)]
    return called
