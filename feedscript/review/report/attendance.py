"""Who was in a lesson when, with which hand, and who was called: from the journal's entries."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from typing import TypeAlias

import msgspec

from feedscript.journal.queries import entries_of
from feedscript.journal.store import Journal
from feedscript.review.report.waiting import (
    Called,
    LeftAt,
    Waiting,
    Worked,
    stays_of,
    turns_of,
    waits,
    work_of,
)
from feedscript.session.operator.commands import RosterChange
from feedscript.visible import on_one_line


class PlannedPlayer(msgspec.Struct, frozen=True):
    """One player as the plan has them."""

    name: str = ""
    left_handed: bool = False
    language: str | None = None


class PlannedGroup(msgspec.Struct, frozen=True):
    """The group as the plan has it."""

    players: tuple[PlannedPlayer, ...] = ()

    @property
    def languages(self) -> dict[str, str]:
        """Of each player of whom the program says one."""
        return {on_one_line(one.name): one.language for one in self.players if one.language}


class Entry(msgspec.Struct, frozen=True):
    """What is needed here of an entry: a change of the group, a turn or work that began."""

    change: RosterChange = RosterChange.REST
    player: str | None = None
    left_handed: bool = False
    station: str = ""
    players: tuple[str, ...] = ()
    lane: str = ""

    @property
    def fork(self) -> str:
        """Which of the lesson's stations side by side it belongs to; they are numbered upwards."""
        return self.lane.partition("/")[0]


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
    """How long each player waited, from the turns and the work that were called and the balls that
    left."""
    called, worked = _called(journal, number), _worked(journal, number)
    moments = [*(one.utc_s for one in called), *(one.utc_s for one in worked)]
    moments += [ball.utc_s for ball in left]
    stays = stays_of(
        (on_one_line(player.name) for player in group.players),
        (
            (utc_s, on_one_line(one.player or ""), one.change is RosterChange.JOIN)
            for utc_s, one in changes
        ),
    )
    end_utc_s = max(moments, default=0.0)
    turns, work = turns_of(called, left, end_utc_s), work_of(worked, end_utc_s)
    return waits(turns, stays, work)


def _worked(journal: Journal, number: int) -> list[Worked]:
    """What work was called to whom, and to nobody where stations ended."""
    told = _until_their_end(_entries(journal, number, "said", "stations-ended"))
    return [
        Worked(utc_s, on_one_line(one.station), tuple(map(on_one_line, one.players)))
        for utc_s, one in told
        if one.station
    ]


def _called(journal: Journal, number: int) -> list[Called]:
    """Who was called to a turn where, and nobody where stations ended."""
    told = _until_their_end(_entries(journal, number, "turn", "stations-ended"))
    return [
        Called(
            utc_s,
            on_one_line(one.station),
            None if one.player is None else on_one_line(one.player),
        )
        for utc_s, one in told
    ]


def _until_their_end(entries: Iterable[tuple[float, str, Entry]]) -> Iterator[tuple[float, Entry]]:
    """The entries, and one of nobody for each station at the moment at which it ended.

    Who comes to a station in the next round may be called before this one has ended: whoever has
    been called to stations that are still to begin stays called.
    """
    running: set[str] = set()
    at: dict[str, str] = {}
    for utc_s, kind, one in entries:
        if kind != "stations-ended":
            if one.station:
                at[one.station] = one.fork
                running.add(one.fork)
            yield utc_s, one
            continue
        ended = min(running, key=lambda fork: (len(fork), fork), default="")
        running.discard(ended)
        for station in sorted(station for station, fork in at.items() if fork == ended):
            yield utc_s, Entry(station=station)
