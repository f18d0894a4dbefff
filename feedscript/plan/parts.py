"""A group in parts, one for each station: who stands where, and in which order they take turns.

Parts are as equal as can be and follow the order of the group, unless some are to be kept together
or apart. Those kept together play at the same time, at stations side by side: they have the same
turn in different parts. Those kept apart never play at the same time: they have different turns,
and stand at different stations where that can be.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Sequence
from itertools import combinations

from feedscript.plan.scene import Group

Pair = frozenset[int]
#: A part and a turn in it, from 0.
_Place = tuple[int, int]
#: So many people are tried at so many places before it is given up. Design value.
_MOST_TRIES = 20_000


def shares(players: Sequence[int], count: int) -> tuple[tuple[int, ...], ...]:
    """Players in ``count`` parts as equal as can be, neighbours together, larger parts first."""
    size, more = divmod(len(players), count)
    ends = [0]
    for number in range(count):
        ends.append(ends[-1] + size + (number < more))
    return tuple(tuple(players[ends[number] : ends[number + 1]]) for number in range(count))


def holds(
    parts: Sequence[Sequence[int]],
    together: frozenset[Pair],
    apart: frozenset[Pair],
    at_once: Collection[int] = (),
) -> bool:
    """Whether all is kept in parts that the program gives, each in the order of its turns.

    ``at_once``: parts whose players are all on at once, so that a turn says nothing.
    """
    places = {
        player: (part, turn) for part, its in enumerate(parts) for turn, player in enumerate(its)
    }
    for pair in together | apart:
        (part, turn), (other, its) = (places.get(player, (-1, -1)) for player in pair)
        turns = part not in at_once and other not in at_once
        if pair in together and (part == other or (turns and turn != its)):
            return False
        if pair in apart and (part == other in at_once or (turns and turn == its)):
            return False
    return True


def kept(group: Group) -> tuple[frozenset[Pair], frozenset[Pair]]:
    """Every two who are kept together, and every two who are kept apart, by their numbers."""
    number = {player.name: index for index, player in enumerate(group.players)}
    return tuple(  # type: ignore[return-value]
        frozenset(
            frozenset((number[one], number[other]))
            for names in sets
            for one, other in combinations(dict.fromkeys(names), 2)
        )
        for sets in (group.keep_together, group.keep_apart)
    )


def parted(
    players: Sequence[int],
    count: int,
    together: frozenset[Pair],
    apart: frozenset[Pair],
    *,
    one_at_a_time: bool = True,
) -> tuple[tuple[int, ...], ...] | None:
    """The group in ``count`` parts, each in the order of its turns; None where it cannot be.

    Not ``one_at_a_time``: at some station all are on at once, so those kept apart are never there
    together.
    """
    for both_stations in (False, True) if one_at_a_time else (False,):
        search = _Search(shares(players, count), together, apart, both_stations)
        found = search.place(tuple(players))
        if found is not None:
            by_place = {place: player for player, place in found.items()}
            return tuple(
                tuple(by_place[part, turn] for turn in range(len(share)))
                for part, share in enumerate(search.default)
            )
    return None


class _Search:
    """Places people one after the other, each as near to the default as the others leave room."""

    def __init__(
        self,
        default: tuple[tuple[int, ...], ...],
        together: frozenset[Pair],
        apart: frozenset[Pair],
        same_station: bool,
    ) -> None:
        self.default, self.together, self.apart = default, together, apart
        self.same_station = same_station  # may those kept apart stand at one station?
        self.tries = 0
        self.own = {
            player: (part, turn)
            for part, share in enumerate(default)
            for turn, player in enumerate(share)
        }

    def place(self, players: tuple[int, ...]) -> dict[int, _Place] | None:
        """Everybody's place; those who are kept somehow first, the others in what is left."""
        bound = {player for pair in self.together | self.apart for player in pair}
        order = [*(p for p in players if p in bound), *(p for p in players if p not in bound)]
        return self._rest(order, {})

    def _rest(self, players: list[int], placed: dict[int, _Place]) -> dict[int, _Place] | None:
        if not players:
            return placed
        player, *others = players
        for place in self._free(player, placed):
            self.tries += 1
            if self.tries > _MOST_TRIES:
                return None
            if self._fits(player, place, placed):
                found = self._rest(others, {**placed, player: place})
                if found is not None:
                    return found
        return None

    def _free(self, player: int, placed: dict[int, _Place]) -> Iterator[_Place]:
        taken = set(placed.values())
        own = self.own[player]
        if own not in taken:
            yield own
        for place in self.own.values():
            if place not in taken and place != own:
                yield place

    def _fits(self, player: int, place: _Place, placed: dict[int, _Place]) -> bool:
        for other, there in placed.items():
            pair = frozenset((player, other))
            same_turn, same_part = place[1] == there[1], place[0] == there[0]
            if pair in self.together and (not same_turn or same_part):
                return False
            if pair in self.apart and (same_turn or (same_part and not self.same_station)):
                return False
        return True
