"""Who is here, who is on, who is next: the group while the lesson runs.

While nobody has come or gone the plan's own order of turns stands. From then on the fair queue of
``rotation`` decides each turn anew, so every change takes effect with the next turn.
"""

from __future__ import annotations

from collections.abc import Container, Sequence
from dataclasses import dataclass, field, replace
from itertools import combinations

from feedscript.diagnostics import Diagnostic, Page
from feedscript.plan.actions import Jump, OnTurn, Reply, TakeTurn
from feedscript.plan.scene import Group, Player
from feedscript.session.commands import ChangeRoster, RosterChange
from feedscript.session.rotation import Pair, Queue, Role, join, leave, next_round, others, take

ROSTER_REFUSED = Page(
    slug="roster-refused",
    title="A change of the group that cannot be made",
    why=(
        "A player who joins needs a name that nobody else here has, and the same hand as before "
        "when coming back; who leaves or rests must be here. So every record keeps its player."
    ),
)


@dataclass(frozen=True, slots=True)
class _Turn:
    """A turn that was given: where in the course, to whom, at which station."""

    place: tuple[str, int]
    player: str
    station: int


@dataclass(slots=True)
class Roster:
    """The group. Players keep their number for the whole lesson, in the order of coming."""

    players: list[Player]
    here: list[str]
    queue: Queue
    by_plan: bool = True  # nobody has come or gone yet
    on: dict[str, str] = field(default_factory=dict)  # station's name: who is on
    _turns: list[_Turn] = field(default_factory=list)
    _slot: tuple[str, int] = ("", -1)
    _taken: set[str] = field(default_factory=set)  # by other stations in this slot
    _ahead: list[str] = field(default_factory=list)  # given a turn that has not begun on court

    def turn(self, place: tuple[str, int], action: TakeTurn, stations: Sequence[str]) -> Reply:
        """Who takes this turn. ``stations`` are those that run side by side, this one among them.

        The turn is skipped where nobody is free for it.
        """
        fork = place[0].partition("/")[0] if "/" in place[0] else place[0]
        if self._slot != (fork, action.slot):
            self._slot, self._taken = (fork, action.slot), set()
        station = stations.index(action.station) if action.station in stations else 0
        name = self._choose(action, station, len(stations))
        if name is None:
            return Jump.SKIP
        self._taken.add(name)
        self._ahead.append(name)
        self._turns.append(_Turn(place, name, station))
        self.queue = take(self.queue, name, station)
        number = self.number(name)
        return OnTurn(number, self.players[number].left_handed)

    def _choose(self, action: TakeTurn, station: int, stations: int) -> str | None:
        if self.by_plan and action.player is not None:
            return self.players[action.player].name
        free = tuple(p for p in self.queue.players if p not in self._taken)
        left = max(1, stations - len(self._taken))
        this, _ = next_round(replace(self.queue, players=free, stations=left))
        apart = [p for p in this.hitters if p is not None and not self._kept_apart(p)]
        if self.queue.stations > 1 and station < len(this.hitters) and not self._taken:
            return this.hitters[station]
        return apart[0] if apart else None

    def _kept_apart(self, player: str) -> bool:
        return any(frozenset({player, other}) in self.queue.apart for other in self._taken)

    def number(self, name: str) -> int:
        """The player's number; ValueError if there is none of that name."""
        return [p.name for p in self.players].index(name)

    def name(self, number: int | None) -> str | None:
        return None if number is None else self.players[number].name

    def only_turns_at(self, places: Container[tuple[str, int]]) -> None:
        """Forget turns given further ahead than the lesson now stands."""
        dropped = [turn.player for turn in self._turns if turn.place not in places]
        for player in dropped:
            if player in self._ahead:
                self._ahead.remove(player)
        self._turns = [turn for turn in self._turns if turn.place in places]
        self._slot, self._taken = ("", -1), set()
        queue = replace(self.queue, players=tuple(self._in_first_order()), turns={}, visits={})
        for turn in self._turns:
            if turn.player in queue.players:
                queue = take(queue, turn.player, turn.station)
        self.queue = self._level_late_comers(queue)

    def _in_first_order(self) -> list[str]:
        return [p.name for p in self.players if p.name in self.here]

    def _level_late_comers(self, queue: Queue) -> Queue:
        """Those who came later are not owed the turns they missed."""
        owed = {name: level for name, level in self._joined_at.items() if name in queue.players}
        turns = {n: max(queue.turns_of(n), owed.get(n, 0)) for n in queue.players}
        return replace(queue, turns=turns)

    _joined_at: dict[str, int] = field(default_factory=dict)

    def turns_of(self, name: str) -> int:
        """Turns this player really had."""
        given = sum(turn.player == name for turn in self._turns)
        return given - self._ahead.count(name)

    def remember_turn(self, place: tuple[str, int], reply: Reply) -> None:
        """A turn from the journal, given before the lesson was broken off."""
        if isinstance(reply, OnTurn):
            name = self.players[reply.player].name
            self._turns.append(_Turn(place, name, 0))
            self.on[place[0].partition("/")[2]] = name

    def change(self, wish: ChangeRoster) -> Diagnostic | None:
        """Someone comes, goes or rests; the diagnostic that refuses it."""
        known = {p.name: p for p in self.players}
        if wish.change is RosterChange.JOIN:
            trouble = self._cannot_join(wish, known)
            if trouble is None:
                self._join(wish, new=wish.player not in known)
        else:
            trouble = None
            if wish.player not in self.here:
                trouble = ROSTER_REFUSED.report(
                    f"{wish.player!r} is not here",
                    help=f"here are: {', '.join(self.here) or 'nobody'}",
                )
            else:
                self.here.remove(wish.player)
                self.queue = leave(self.queue, wish.player)
        if trouble is None:
            self.by_plan = False
        return trouble

    def _cannot_join(self, wish: ChangeRoster, known: dict[str, Player]) -> Diagnostic | None:
        if not wish.player.strip() or len(wish.player) > 40:
            what = "a player needs a name of 1 to 40 characters"
        elif wish.player in self.here:
            what = f"{wish.player!r} is here already"
        elif wish.player in known and known[wish.player].left_handed != wish.left_handed:
            what = f"{wish.player!r} had the other hand before"
        else:
            return None
        return ROSTER_REFUSED.report(what, help="give a letter or a name that nobody has")

    def _join(self, wish: ChangeRoster, *, new: bool) -> None:
        if new:
            self.players.append(Player(name=wish.player, left_handed=wish.left_handed))
        self.here.append(wish.player)
        self.queue = join(self.queue, wish.player)
        self._joined_at[wish.player] = self.queue.turns_of(wish.player)

    def begins(self, station: str, name: str | None) -> None:
        """A turn begins on court: this player is on at the station now, or nobody is."""
        if name is None:
            self.on.pop(station, None)
            return
        self.on[station] = name
        if name in self._ahead:
            self._ahead.remove(name)

    def waiting(self) -> tuple[str, ...]:
        """Those who are not on, the next first."""
        order = dict.fromkeys([*self._ahead, *self.queue.players])
        return tuple(p for p in order if p in self.here and p not in self.on.values())

    def places(self, stations: Sequence[str]) -> list[tuple[str, str, Role]]:
        """Everyone's place now: player, station, role."""
        hitters = tuple(self.on.get(station) for station in stations)
        roles = [
            (hitter, station, Role.HITTER)
            for hitter, station in zip(hitters, stations, strict=True)
            if hitter is not None
        ]
        return roles + [
            (player, stations[station], role)
            for player, station, role in others(self.waiting(), hitters)
        ]


def _pairs(sets: Sequence[Sequence[str]]) -> frozenset[Pair]:
    return frozenset(frozenset(pair) for names in sets for pair in combinations(names, 2))


def roster_of(group: Group, stations: int) -> Roster:
    """The group as the program has it."""
    names = [player.name for player in group.players]
    queue = Queue(
        tuple(names),
        stations,
        together=_pairs(group.keep_together),
        apart=_pairs(group.keep_apart),
    )
    return Roster(list(group.players), list(names), queue)
