"""Who is here, who is on, who is next: the group while the lesson runs.

While nobody has come or gone the plan's own order of turns stands. From then on the fair queue of
``rotation`` decides each turn anew, so every change takes effect with the next turn.

The queue is what the turns and the changes come to, in the order in which they happened. So the
lesson that goes on from its journal and the one that was never broken off have the same queue.
"""

from __future__ import annotations

from collections.abc import Collection, Container, Iterable, Iterator, Mapping, Sequence
from functools import reduce
from itertools import combinations, takewhile
from operator import attrgetter
from typing import Any, TypeAlias

import msgspec

from feedscript.diagnostics import Diagnostic, Page
from feedscript.plan.interpreter.actions import Jump, OnTurn, Reply, TakeTurn
from feedscript.plan.scene import Group, Player
from feedscript.session.group.rotation import (
    Pair,
    Queue,
    Role,
    join,
    leave,
    next_round,
    others,
    take,
)
from feedscript.session.operator.commands import ChangeRoster, RosterChange
from feedscript.session.state.lanes import fork_of
from feedscript.tongues.text import _
from feedscript.visible import has_hidden

ROSTER_REFUSED = Page(
    slug="roster-refused",
    title="A change of the group that cannot be made",
    why=(
        "A player who joins needs a name that nobody else here has, and the same hand as before "
        "when coming back; who leaves or rests must be here. So every record keeps its player."
    ),
)


class _Turn(msgspec.Struct, frozen=True):
    """A turn that was given: where in the course, to whom, at which station.

    ``own``: one that the program gives to some only, and that nobody else waits for.
    """

    place: tuple[str, int]
    player: str
    station: int
    slot: int
    own: bool = False

    @property
    def order(self) -> tuple[int, int, int]:
        """Where the plan has it: rounds in their order, and in each the stations in theirs."""
        fork, number = fork_of(self.place[0]), self.place[1]
        return (number if fork is None else fork, self.slot, self.station)


#: What happened to the group.
_Event: TypeAlias = _Turn | ChangeRoster


def _after(queue: Queue, event: _Event) -> Queue:
    """The queue after this."""
    if isinstance(event, ChangeRoster):
        change = join if event.change is RosterChange.JOIN else leave
        return change(queue, event.player)
    counts = event.player in queue.players and not event.own
    return take(queue, event.player, event.station) if counts else queue


def _in_order(happened: tuple[_Event, ...]) -> tuple[_Event, ...]:
    """Turns since the group last changed in the plan's order, whichever station asked first."""
    count = sum(1 for _ in takewhile(lambda event: isinstance(event, _Turn), reversed(happened)))
    turns = happened[len(happened) - count :]
    return (*happened[: len(happened) - count], *sorted(turns, key=attrgetter("order")))


class Roster(msgspec.Struct, frozen=True, kw_only=True):
    """The group. Players keep their number for the whole lesson, in the order of coming.

    ``first`` is the queue as the program has it, ``begun`` the turns that began on court.
    """

    players: tuple[Player, ...]
    here: tuple[str, ...]
    first: Queue
    queue: Queue
    by_plan: bool = True  # nobody has come or gone yet
    said: Mapping[str, tuple[str | None, str | None]] = {}  # stage, level
    on: Mapping[str, str] = {}  # station's name: who is on
    happened: tuple[_Event, ...] = ()
    begun: frozenset[tuple[str, int]] = frozenset()

    @property
    def _turns(self) -> list[_Turn]:
        return [event for event in self.happened if isinstance(event, _Turn)]

    @property
    def _ahead(self) -> list[str]:
        """Who was given a turn that has not begun on court."""
        return [turn.player for turn in self._turns if turn.place not in self.begun]

    def _happens(self, event: _Event, **changes: Any) -> Roster:
        happened, queue = (*self.happened, event), _after(self.queue, event)
        if (ordered := _in_order(happened)) != happened:
            happened, queue = ordered, reduce(_after, ordered, self.first)
        return msgspec.structs.replace(self, queue=queue, happened=happened, **changes)

    def turn(
        self,
        place: tuple[str, int],
        action: TakeTurn,
        stations: Sequence[str],
        live: Collection[str] | None = None,
        busy: Collection[str] = (),
    ) -> Reply:
        """Who takes this turn. ``stations`` are those that run side by side, this one among them;
        ``live`` those of them that have not ended (None: all), ``busy`` players with balls still
        under way elsewhere.

        The turn is skipped where nobody is free for it.
        """
        live = stations if live is None else live
        if action.players is not None:
            return self._own_turn(place, action, live, busy)
        if self._comes_out_even(place, action, len(live)):
            # In the main lane the turn's time is not waited for; stations stay in step.
            return Jump.SKIP if place[0] else Jump.NEXT
        if self.by_plan and action.player is not None:
            name: str | None = self.players[action.player].name
        else:
            name = self._choose(place, action, stations, live, set(busy))
        return self._on_turn(name)

    def _on_turn(self, name: str | None) -> Reply:
        if name is None:
            return Jump.SKIP
        number = self.number(name)
        return OnTurn(number, self.players[number].left_handed)

    def _own_turn(
        self,
        place: tuple[str, int],
        action: TakeTurn,
        live: Collection[str],
        busy: Collection[str],
    ) -> Reply:
        """A turn that only some have: whoever is named has it or nobody has. Else, after a change
        of the group, the first who is here, may have one and had none of these."""
        planned = None if action.player is None else self.players[action.player].name
        if action.named or self.by_plan:
            return self._on_turn(planned if planned in self.here else None)
        known = range(len(self.first.players))
        left_out = {self.players[one].name for one in known if one not in (action.players or ())}
        elsewhere = [turn.player for turn in self._beside(place, action, live).values()]
        had = {*self._had(place, action.slot), *elsewhere, *busy}
        free = (name for name in self.here if name not in left_out and name not in had)
        return self._on_turn(next(free, None))

    def _had(self, place: tuple[str, int], slot: int) -> Iterator[str]:
        """Who had one of these turns of this lane before."""
        for turn in reversed(self._turns):
            if turn.place[0] == place[0]:
                if turn.slot >= slot or not turn.own:
                    return
                slot = turn.slot
                yield turn.player

    def _choose(
        self,
        place: tuple[str, int],
        action: TakeTurn,
        stations: Sequence[str],
        live: Collection[str],
        busy: set[str],
    ) -> str | None:
        """Whom the round has at this station.

        One round is one turn at every station that begins it together, whichever asks first: those
        that have asked already got what the same round gives them, unless the group has changed.
        """
        here = action.station if action.station in stations else stations[0]
        beside = self._beside(place, action, live)
        same = {at: turn for at, turn in beside.items() if turn.slot == action.slot}
        taken = {turn.player for at, turn in beside.items() if at not in same}
        if action.until_s is None:
            taken |= busy - {turn.player for turn in same.values()}
        begins = [at for at in stations if at == here or at in same or at in {*live} - {*beside}]
        before = self.without_turns_at({turn.place for turn in same.values()})
        hitters = before._round(begins, stations, taken)
        if any(hitters[at] != turn.player for at, turn in same.items()):
            taken |= {turn.player for turn in same.values()}
            hitters = self._round([at for at in begins if at not in same], stations, taken)
        return hitters[here]

    def _beside(
        self, place: tuple[str, int], action: TakeTurn, live: Collection[str]
    ) -> dict[str, _Turn]:
        """The turn at each station beside this one that goes on while this turn does.

        Turns on the clock change together; of others it is not known, so the last one counts.
        """
        fork, _, here = place[0].partition("/")
        last: dict[str, _Turn] = {}
        for turn in self._turns:
            of, _, there = turn.place[0].partition("/")
            if of == fork and there != here and there in live:
                last[there] = max(last.get(there, turn), turn, key=attrgetter("place"))
        together = action.until_s is not None
        return {at: turn for at, turn in last.items() if not together or turn.slot >= action.slot}

    def _round(
        self, begins: Sequence[str], stations: Sequence[str], taken: set[str]
    ) -> dict[str, str | None]:
        """The fairest round of these stations without the players who are taken."""
        players = tuple(
            player
            for player in self.queue.players
            if player not in taken and not self._kept_apart(player, taken)
        )
        visits = {
            (player, number): self.queue.visits.get((player, stations.index(at)), 0)
            for player in players
            for number, at in enumerate(begins)
        }
        queue = msgspec.structs.replace(
            self.queue, players=players, stations=len(begins), visits=visits
        )
        this, _ = next_round(queue)
        return dict(zip(begins, this.hitters, strict=True))

    def _comes_out_even(self, place: tuple[str, int], action: TakeTurn, stations: int) -> bool:
        """Whether all here have had as many turns in this series, and no further round fits.

        A series has as many turns as the plan gives it; after a change of the group the last ones
        would be an extra for some, so they are left out.
        """
        if self.by_plan or not self.here:
            return False
        had = self._turns_in_series(place, action.slot)  # before this round
        counts = {had.count(name) for name in self.here}
        return (
            len(counts) == 1
            and min(counts) > 0
            and ((action.slots - action.slot) * stations < len(self.here))
        )

    def _turns_in_series(self, place: tuple[str, int], slot: int) -> list[str]:
        """Who had a turn in the series of this turn: in this fork, or back to its first slot."""
        fork = place[0].partition("/")[0]
        had = []
        for turn in reversed(self._turns):
            other = turn.own or turn.place[0].partition("/")[0] != fork
            if other or (not fork and turn.slot >= slot):
                break
            if not fork or turn.slot != slot:
                had.append(turn.player)
            if not fork:
                slot = turn.slot
        return had

    def _kept_apart(self, player: str, taken: set[str]) -> bool:
        return any(frozenset({player, other}) in self.queue.apart for other in taken)

    def number(self, name: str) -> int:
        """The player's number; ValueError if there is none of that name."""
        return [p.name for p in self.players].index(name)

    def speaks(self, names: Iterable[str | None]) -> str:
        """The one language that all of these speak by the program; "" where there is none."""
        own = {player.name: player.language for player in self.players}
        spoken = {own.get(name or "") for name in names}
        return (spoken.pop() or "") if len(spoken) == 1 else ""

    def name(self, number: int | None) -> str | None:
        return None if number is None else self.players[number].name

    def given(
        self, place: tuple[str, int], number: int, station: int, slot: int, *, own: bool = False
    ) -> Roster:
        """After the player of this number was given a turn; ``own``: one that only some have."""
        return self._happens(_Turn(place, self.players[number].name, station, slot, own))

    def without_turns_at(self, places: Container[tuple[str, int]]) -> Roster:
        """As if the turns at these places had not been given."""
        happened = tuple(
            event
            for event in self.happened
            if isinstance(event, ChangeRoster) or event.place not in places
        )
        if len(happened) == len(self.happened):
            return self
        begun = frozenset(place for place in self.begun if place not in places)
        queue = reduce(_after, happened, self.first)
        return msgspec.structs.replace(self, happened=happened, begun=begun, queue=queue)

    def turns_of(self, name: str) -> int:
        """Turns this player really had."""
        return sum(turn.player == name and turn.place in self.begun for turn in self._turns)

    def after(self, wish: ChangeRoster) -> tuple[Player, ...] | Diagnostic:
        """Who would be here, in the order of coming; or the diagnostic that refuses the change."""
        known = {p.name: p for p in self.players}
        if wish.change is RosterChange.JOIN:
            trouble = self._cannot_join(wish, known)
            if trouble is not None:
                return trouble
            who = known.get(wish.player, Player(name=wish.player, left_handed=wish.left_handed))
            return (*(known[name] for name in self.here), who)
        if wish.player not in self.here and not self._goes_for_good(wish):
            return ROSTER_REFUSED.report(
                _("{player!r} is not here", player=wish.player),
                help=_("here are: {players}", players=", ".join(self.here) or _("nobody")),
            )
        return tuple(known[name] for name in self.here if name != wish.player)

    def change(self, wish: ChangeRoster) -> Roster | Diagnostic:
        """After someone came, went or rests; the diagnostic that refuses it."""
        found = self.after(wish)
        if isinstance(found, Diagnostic):
            return found
        names = tuple(player.name for player in found)
        if wish.change is not RosterChange.JOIN:
            return self._happens(wish, here=names, by_plan=False)
        known = {player.name for player in self.players}
        players = self.players if wish.player in known else (*self.players, found[-1])
        said = {**self.said, wish.player: (wish.stage, wish.level)}
        return self._happens(wish, players=players, here=names, said=said, by_plan=False)

    def is_here(self, number: int | None) -> bool:
        """Whether the player of this number is here; nobody in particular always is."""
        return number is None or self.players[number].name in self.here

    def sits_out(self, name: str) -> bool:
        """Whether this player is away for now, and said to come back."""
        changes = (one for one in reversed(self.happened) if isinstance(one, ChangeRoster))
        last = next((one.change for one in changes if one.player == name), None)
        return name not in self.here and last is RosterChange.REST

    def _goes_for_good(self, wish: ChangeRoster) -> bool:
        return wish.change is RosterChange.LEAVE and self.sits_out(wish.player)

    def _cannot_join(self, wish: ChangeRoster, known: dict[str, Player]) -> Diagnostic | None:
        if not wish.player.strip() or len(wish.player) > 40:
            what = _("a player needs a name of 1 to 40 characters")
        elif has_hidden(wish.player):
            what = _("{player!r} holds a character that is not seen", player=wish.player)
        elif wish.player in self.here:
            what = _("{player!r} is here already", player=wish.player)
        elif wish.player in known and known[wish.player].left_handed != wish.left_handed:
            what = _("{player!r} had the other hand before", player=wish.player)
        else:
            return None
        return ROSTER_REFUSED.report(what, help=_("give a letter or a name that nobody has"))

    def begins(self, place: tuple[str, int], station: str, name: str | None) -> Roster:
        """A turn begins on court: this player is on at the station now, or nobody is. Whoever was
        on before there were stations, or at one before there were none, is so no more."""
        on = {at: who for at, who in self.on.items() if station and at and at != station}
        if name is not None:
            on[station] = name
        return msgspec.structs.replace(self, begun=self.begun | {place}, on=on)

    def at_stations(self) -> Roster:
        """A ball left at one: the turn before them is over, though nobody's may follow."""
        if "" not in self.on:
            return self
        return msgspec.structs.replace(self, on={at: who for at, who in self.on.items() if at})

    def off_court(self) -> Roster:
        """The stations are over: nobody is on until the next turn."""
        return msgspec.structs.replace(self, on={})

    def waiting(self, working: Collection[str] = ()) -> tuple[str, ...]:
        """Those who are not on, and not ``working`` by themselves; the next first."""
        order = dict.fromkeys([*self._ahead, *self.queue.players])
        busy = {*self.on.values(), *working}
        return tuple(p for p in order if p in self.here and p not in busy)

    def here_of(self, numbers: Sequence[int]) -> tuple[str, ...]:
        """Those of the players of these numbers who are here."""
        names = (self.players[number].name for number in numbers)
        return tuple(name for name in names if name in self.here)

    def places(
        self, stations: Sequence[str], alone: Mapping[str, Sequence[str]] = {}
    ) -> list[tuple[str, str, Role]]:
        """Everyone's place now: player, station, role. ``alone``: who works by themselves, by
        station."""
        hitters = tuple(self.on.get(station) for station in stations)
        working = [name for names in alone.values() for name in names]
        roles = [(name, station, Role.WORKER) for station, names in alone.items() for name in names]
        roles += [
            (hitter, station, Role.HITTER)
            for hitter, station in zip(hitters, stations, strict=True)
            if hitter is not None
        ]
        return roles + [
            (player, stations[station], role)
            for player, station, role in others(self.waiting(working), hitters)
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
    return Roster(players=group.players, here=tuple(names), first=queue, queue=queue)
