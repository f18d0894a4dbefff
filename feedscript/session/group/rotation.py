"""Fair turns for any number of players over any number of stations, as pure functions.

Players stand in a queue. Each round takes hitters from its front, one a station, and they go to
its end; whoever waits stands nearer the front next time. From this follow the promises that the
tests prove for 1 to 16 players on 1 to 4 stations:

- among players who are present throughout, the numbers of turns never differ by more than one,
  and are equal whenever a series ends (after p / gcd(p, s) rounds of p players over s stations, or
  one where there are no more players than stations, when nobody has to be kept apart);
- nobody waits longer in a row than the numbers force on someone: with at least half of the
  players hitting in each round, nobody waits twice running.

Keeping two players apart means that they never hit in the same round; a station rather stays
empty. Keeping two together means that they hit in the same round wherever that costs nobody a
turn.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from enum import StrEnum
from itertools import permutations

import msgspec


class Role(StrEnum):
    """What a player does at a station during one round."""

    HITTER = "hitter"
    SHADOW = "shadow"  # swings along behind; hits next
    TARGET_KEEPER = "target keeper"
    COLLECTOR = "collector"
    CAMERA = "camera"
    WORKER = "working by themselves"  # at a station without a launcher


#: What those who wait do, in the order in which the places at a station are filled: the one who
#: is next to hit moves already, then the work that a group needs most.
WAITING_ROLES = (Role.SHADOW, Role.TARGET_KEEPER, Role.COLLECTOR, Role.CAMERA)

Pair = frozenset[str]


class Queue(msgspec.Struct, frozen=True):
    """Who is here, in the order of their next turns, and the turns each has had.

    ``visits`` counts how often each player has hit at each station.
    """

    players: tuple[str, ...]
    stations: int
    turns: Mapping[str, int] = {}
    visits: Mapping[tuple[str, int], int] = {}
    together: frozenset[Pair] = frozenset()
    apart: frozenset[Pair] = frozenset()

    def turns_of(self, player: str) -> int:
        return self.turns.get(player, 0)


class Round(msgspec.Struct, frozen=True):
    """One round: the hitter of each station (None: it stays empty), and what the others do."""

    hitters: tuple[str | None, ...]
    others: tuple[tuple[str, int, Role], ...]  # player, station, role

    def roles(self) -> Iterator[tuple[str, int, Role]]:
        """Everyone's place: player, station, role."""
        for station, hitter in enumerate(self.hitters):
            if hitter is not None:
                yield hitter, station, Role.HITTER
        yield from self.others


def next_round(queue: Queue) -> tuple[Round, Queue]:
    """Who is on now, and the queue after it."""
    chosen = _choose(queue)
    hitters = _place(queue, chosen)
    after = queue
    for player in chosen:
        after = take(after, player, hitters.index(player))
    waiting = tuple(p for p in queue.players if p not in chosen)
    return Round(hitters, others(waiting, hitters)), after


def take(queue: Queue, player: str, station: int) -> Queue:
    """The queue after this player's turn at this station."""
    visits = queue.visits.get((player, station), 0) + 1
    return msgspec.structs.replace(
        queue,
        players=(*(p for p in queue.players if p != player), player),
        turns={**queue.turns, player: queue.turns_of(player) + 1},
        visits={**queue.visits, (player, station): visits},
    )


def _choose(queue: Queue) -> tuple[str, ...]:
    """The hitters of the next round, in queue order.

    First those whose mates can come along, the front of the queue always; then, so that no
    station stays empty, anyone.
    """
    chosen: list[str] = []
    for keep_mates in (True, False):
        for player in queue.players:
            if not _may_join(queue, player, chosen):
                continue
            mates = [m for m in _mates(queue, player) if _may_join(queue, m, [*chosen, player])]
            level = [m for m in mates if queue.turns_of(m) <= queue.turns_of(player)]
            front = not chosen
            if keep_mates and not front and not _has_come_whole(queue, player, chosen, level):
                continue
            chosen.append(player)
            for mate in level:
                if _may_join(queue, mate, chosen):
                    chosen.append(mate)
    return tuple(chosen)


def _may_join(queue: Queue, player: str, chosen: list[str]) -> bool:
    """Whether this player may hit in the round of those already chosen.

    A player who is a turn ahead of someone present who is not in this round waits, even beside
    an empty station.
    """
    if player in chosen or len(chosen) >= queue.stations:
        return False
    fewest = min(queue.turns_of(p) for p in queue.players)
    behind = [p for p in queue.players if queue.turns_of(p) == fewest]
    if queue.turns_of(player) > fewest and not all(p in chosen for p in behind):
        return False
    return not any(frozenset({player, other}) in queue.apart for other in chosen)


def _has_come_whole(queue: Queue, player: str, chosen: list[str], coming: list[str]) -> bool:
    """Whether all of this player's mates are in the round, or come into it with this player."""
    room = queue.stations - len(chosen) - 1
    mates = [m for m in _mates(queue, player) if m not in chosen]
    return len(mates) == len(coming) <= room


def _mates(queue: Queue, player: str) -> list[str]:
    """Those to be kept together with ``player``, in queue order."""
    return [p for p in queue.players if p != player and frozenset({p, player}) in queue.together]


def _place(queue: Queue, chosen: tuple[str, ...]) -> tuple[str | None, ...]:
    """Give each hitter a station, so that everyone comes to every station equally often."""
    best: tuple[int, tuple[int, ...]] | None = None
    for stations in permutations(range(queue.stations), len(chosen)):
        seen = sum(
            2 * queue.visits.get((player, station), 0) + 1
            for player, station in zip(chosen, stations, strict=True)
        )
        if best is None or seen < best[0]:
            best = (seen, stations)
    placed: list[str | None] = [None] * queue.stations
    if best is not None:
        for player, station in zip(chosen, best[1], strict=True):
            placed[station] = player
    return tuple(placed)


def others(
    waiting: tuple[str, ...], hitters: tuple[str | None, ...]
) -> tuple[tuple[str, int, Role], ...]:
    """Spread those who wait over the stations in use; the next to hit stand nearest."""
    used = [station for station, hitter in enumerate(hitters) if hitter is not None]
    if not used:
        return ()
    last = len(WAITING_ROLES) - 1
    return tuple(
        (player, used[i % len(used)], WAITING_ROLES[min(i // len(used), last)])
        for i, player in enumerate(waiting)
    )


def join(queue: Queue, player: str) -> Queue:
    """A player comes (or comes back from a rest): last in the queue, not owed what was missed."""
    if player in queue.players:
        return queue
    fewest = min((queue.turns_of(p) for p in queue.players), default=queue.turns_of(player))
    level = max(queue.turns_of(player), fewest)
    return msgspec.structs.replace(
        queue, players=(*queue.players, player), turns={**queue.turns, player: level}
    )


def leave(queue: Queue, player: str) -> Queue:
    """A player goes or rests; the turns had stay counted."""
    return msgspec.structs.replace(queue, players=tuple(p for p in queue.players if p != player))
