"""Who may stand at the page's door, and who has to make room.

Strangers are few at a time, and are let go when they do not say soon what they want. When there are
too many, the newest is let in and somebody else has to go: one of the same address, or of the one
with the most, first who has said nothing. So nobody can fill the door for the others, however many
come. For strangers no connection makes room that spoke for a paired device, nor one of the address
that a paired device spoke from, unless the stranger comes from there too.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field

#: From the opening of a connection to the end of a request's head, and from there to the end of
#: the answer; a phone on a bad network needs well under a second for each. Design value.
PATIENCE_S = 5.0
#: A browser opens six connections to one place at a time, and a hall's phones may share one
#: address. A thousand that come every second keep nobody from the quarter of one that a phone on a
#: bad network takes to say what it wants. Design values, below the 1,024 a process may hold open.
STRANGERS_OF_ADDRESS = 32
STRANGERS_IN_ALL = 256
#: Two pages of a browser with all their connections.
OF_DEVICE = 16


@dataclass(slots=True, eq=False)
class Guest:
    """One connection. ``leave`` ends it; ``gone`` says whether it has ended, ``spoke`` whether
    anything has come over it.

    ``until_s`` is when patience with it is over; ``device`` is the paired device it spoke for.
    """

    address: str
    leave: Callable[[], None]
    gone: Callable[[], bool]
    spoke: Callable[[], bool]
    until_s: float
    device: str | None = None
    stays: bool = False  # a page's socket


@dataclass(slots=True)
class Guests:
    """Those who are here. ``clock`` gives rising seconds."""

    clock: Callable[[], float]
    _strangers: dict[str, dict[Guest, None]] = field(
        default_factory=dict
    )  # by address, oldest first
    _count: int = 0  # of strangers
    _devices: dict[str, dict[Guest, None]] = field(default_factory=dict)  # by device
    _homes: set[str] = field(default_factory=set)  # addresses that paired devices spoke from

    @property
    def here(self) -> list[Guest]:
        """Everybody, in no order."""
        groups = [*self._strangers.values(), *self._devices.values()]
        return [guest for group in groups for guest in group]

    def enter(self, guest: Guest) -> None:
        """One more, for whom another may have to leave."""
        same = self._strangers.setdefault(guest.address, {})
        if len(same) >= STRANGERS_OF_ADDRESS:
            self._let_go(_first_to_go(same))
        elif self._count >= STRANGERS_IN_ALL:
            self._let_go(_first_to_go(self._strangers[self._greediest()]))
        self._strangers.setdefault(guest.address, {})[guest] = None
        self._count += 1

    def asks(self, guest: Guest, device: str | None, *, stays: bool) -> None:
        """A request has come whole, for this paired device or for nobody; it may stay open."""
        guest.until_s = math.inf if stays else self.clock() + PATIENCE_S
        guest.stays = stays
        if device is None:
            return
        self._forget(guest)
        guest.device = device
        self._homes.add(guest.address)
        theirs = self._devices.setdefault(device, {})
        theirs[guest] = None
        if len(theirs) > OF_DEVICE:
            self._let_go(next((one for one in theirs if not one.stays), next(iter(theirs))))

    def is_answered(self, guest: Guest) -> None:
        """The answer is out; the next request may come."""
        guest.stays = False
        guest.until_s = self.clock() + PATIENCE_S

    def look(self) -> None:
        """Forget who has gone, and end every connection with which patience is over."""
        now_s = self.clock()
        for guest in self.here:
            if guest.gone():
                self._forget(guest)
            elif guest.until_s <= now_s:
                self._let_go(guest)

    def let_everybody_go(self) -> None:
        for guest in self.here:
            self._let_go(guest)

    def _greediest(self) -> str:
        """The address with the most strangers; one where no paired device is, if there is any."""
        elsewhere = [address for address in self._strangers if address not in self._homes]
        return max(elsewhere or self._strangers, key=lambda a: len(self._strangers[a]))

    def _let_go(self, guest: Guest) -> None:
        self._forget(guest)
        guest.leave()

    def _forget(self, guest: Guest) -> None:
        groups, key = self._strangers, guest.address
        if guest.device is not None:
            groups, key = self._devices, guest.device
        group = groups.get(key, {})
        if guest in group:
            del group[guest]
            self._count -= guest.device is None
            if not group:
                del groups[key]


def _first_to_go(guests: Iterable[Guest]) -> Guest:
    """The oldest that has said nothing; where all have, the oldest."""
    ordered = list(guests)
    return next((one for one in ordered if not one.spoke()), ordered[0])
