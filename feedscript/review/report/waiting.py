"""How long each player waited in a lesson, and how long without stations.

A turn begins when the player is called and ends with the player's last ball in it. Work at a
station without a launcher, of all whose part is there at once, lasts until other work is called
there or the stations end. Whoever has no turn and no work waits. Were there no stations, every turn
and every part's work would come after the one before, and all the rest of the lesson would be as it
was: it would last longer by what they lie over one another. The changes between those turns are not
known and not counted: it would be rather more.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from itertools import groupby, pairwise

import msgspec

#: A pause longer than this between two balls of one player begins a new series (design value:
#: longer than any interval of a drill, shorter than a turn of somebody else).
SERIES_PAUSE_S = 15.0
#: A turn begins so long before its first ball at most: whoever is called before a break still rests
#: (design value).
CALLED_BEFORE_S = SERIES_PAUSE_S

Interval = tuple[float, float]  # from, to, in seconds of UTC


class Called(msgspec.Struct, frozen=True):
    """Somebody was called to a station; nobody where it ended."""

    utc_s: float
    station: str
    player: str | None


class Worked(msgspec.Struct, frozen=True):
    """Work was called to these players at a station without a launcher; to nobody where the
    station ended."""

    utc_s: float
    station: str
    players: tuple[str, ...]


class LeftAt(msgspec.Struct, frozen=True):
    """When a ball left, where, and to whom."""

    utc_s: float
    station: str
    player: str | None


class Waiting(msgspec.Struct, frozen=True):
    """How long one player was in the lesson, and had no turn; both also without stations."""

    here_s: float
    waited_s: float
    here_without_stations_s: float
    waited_without_stations_s: float

    @property
    def minutes_an_hour(self) -> float | None:
        """Waiting in each hour; None where there was no time to wait in."""
        return _an_hour(self.waited_s, self.here_s)

    @property
    def minutes_an_hour_without_stations(self) -> float | None:
        """The same had every turn been played after the one before."""
        return _an_hour(self.waited_without_stations_s, self.here_without_stations_s)


def _an_hour(waited_s: float, here_s: float) -> float | None:
    return 60.0 * waited_s / here_s if here_s > 0.0 else None


def work_of(worked: Sequence[Worked], end_utc_s: float) -> list[tuple[tuple[str, ...], Interval]]:
    """Who worked by themselves from when to when. ``worked`` is in the order of its moments."""
    found = []
    for at, one in enumerate(worked):
        after = (other.utc_s for other in worked[at + 1 :] if other.station == one.station)
        if one.players:
            found.append((one.players, (one.utc_s, next(after, end_utc_s))))
    return found


def turns_of(
    called: Iterable[Called], balls: Sequence[LeftAt], end_utc_s: float
) -> list[tuple[str, Interval]]:
    """Who had a turn from when to when. ``balls`` in the order they left.

    A turn in which no ball was fed, as at a station of the players' own work, lasts until the next
    is called there. Balls that were fed to somebody who was not called are turns of their own.
    """
    by_station: dict[str, list[Called]] = defaultdict(list)
    for one in called:
        by_station[one.station].append(one)
    found: list[tuple[str, Interval]] = []
    for station in dict.fromkeys([*by_station, *(ball.station for ball in balls)]):
        there = [ball for ball in balls if ball.station == station]
        found += _at_station(by_station[station], there, end_utc_s)
    return found


def _at_station(
    called: list[Called], balls: list[LeftAt], end_utc_s: float
) -> Iterator[tuple[str, Interval]]:
    marks = [Called(float("-inf"), "", None), *called, Called(end_utc_s, "", None)]
    for one, after in pairwise(marks):
        last = after.utc_s if after is not marks[-1] else float("inf")
        theirs = [ball for ball in balls if one.utc_s <= ball.utc_s < last]
        yield from _turn(one, after.utc_s, theirs)


def _turn(one: Called, next_utc_s: float, balls: list[LeftAt]) -> Iterator[tuple[str, Interval]]:
    if one.player is not None and not balls:
        yield one.player, (one.utc_s, next_utc_s)
    theirs = [ball.utc_s for ball in balls if ball.player == one.player]
    if one.player is not None and theirs:
        yield one.player, (max(one.utc_s, theirs[0] - CALLED_BEFORE_S), theirs[-1])
    for player, others in groupby(balls, key=lambda ball: ball.player):
        if player not in (None, one.player):
            yield from ((player, run) for run in _without_pauses([b.utc_s for b in others]))


def _without_pauses(left: Sequence[float]) -> Iterator[Interval]:
    """From a ball to the last one that follows it without a long pause, and so on."""
    begin = left[0]
    for before, now in pairwise(left):
        if now - before > SERIES_PAUSE_S:
            yield begin, before
            begin = now
    yield begin, left[-1]


def waits(
    turns: Sequence[tuple[str, Interval]],
    here: Mapping[str, Sequence[Interval]],
    work: Sequence[tuple[tuple[str, ...], Interval]] = (),
) -> dict[str, Waiting]:
    """Each player's waiting, from the lesson's first turn or work to the end of its last.

    ``here`` says when somebody was in the lesson, of those who came late or went; ``work`` who
    worked by themselves, all of a part at once.
    """
    busy = [*(((player,), at) for player, at in turns), *work]
    if not busy:
        return {}
    whole = (min(begin for _, (begin, _) in busy), max(end for _, (_, end) in busy))
    players = dict.fromkeys(player for those, _ in busy for player in those)
    return {player: _waiting(player, busy, here.get(player, (whole,)), whole) for player in players}


def _waiting(
    player: str,
    busy: Sequence[tuple[tuple[str, ...], Interval]],
    here: Sequence[Interval],
    whole: Interval,
) -> Waiting:
    stays = within([whole], here)
    everyone = within([interval for _, interval in busy], stays)
    own = length(merged(within([at for those, at in busy if player in those], stays)))
    here_s = length(stays)
    over_s = length(everyone) - length(merged(everyone))
    return Waiting(here_s, here_s - own, here_s + over_s, here_s + over_s - own)


def within(intervals: Iterable[Interval], stays: Iterable[Interval]) -> list[Interval]:
    """What of the intervals lies in the stays, which do not overlap."""
    stays = list(stays)
    cut = [(max(a, c), min(b, d)) for a, b in intervals for c, d in stays]
    return [(begin, end) for begin, end in cut if begin < end]


def merged(intervals: Iterable[Interval]) -> list[Interval]:
    """The same moments, none of them twice."""
    found: list[Interval] = []
    for begin, end in sorted(intervals):
        if found and begin <= found[-1][1]:
            found[-1] = found[-1][0], max(end, found[-1][1])
        else:
            found.append((begin, end))
    return found


def length(intervals: Iterable[Interval]) -> float:
    """All of them together, in seconds."""
    return sum(end - begin for begin, end in intervals)


def stays_of(
    first: Iterable[str], changes: Iterable[tuple[float, str, bool]]
) -> dict[str, list[Interval]]:
    """When each player was in the lesson: those of ``first`` from the beginning, and by the changes
    in their order: moment, player, whether they came (else they went or rest)."""
    always = (float("-inf"), float("inf"))
    stays: dict[str, list[Interval]] = {player: [always] for player in first}
    for utc_s, player, came in changes:
        mine = stays.setdefault(player, [] if came else [always])
        is_here = bool(mine) and mine[-1][1] == always[1]
        if came and not is_here:
            mine.append((utc_s, always[1]))
        elif not came and is_here:
            mine[-1] = (mine[-1][0], utc_s)
    return stays
