"""Who may stand at the page's door, and who has to make room.

Strangers are few at a time, and are let go when they do not say soon what they want. When there are
too many, the newest is let in and somebody else has to go: the oldest of the same address, or of
the address that has the most. So nobody can fill the door for the others, however many come. A
connection that spoke for a paired device makes room for no stranger.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field

#: From the opening of a connection to the end of a request's head, and from there to the end of
#: the answer; a phone on a bad network needs well under a second for each. Design value.
PATIENCE_S = 5.0
#: A browser opens six connections to one place at a time, and a hall's phones may share one
#: address. Design values, far below what a process may hold open (often 1,024).
STRANGERS_OF_ADDRESS = 16
STRANGERS_IN_ALL = 64
#: Two pages of a browser with all their connections.
OF_DEVICE = 16


@dataclass(slots=True, eq=False)
class Guest:
    """One connection. ``leave`` ends it; ``gone`` says whether it has ended.

    ``until_s`` is when patience with it is over; ``device`` is the paired device it spoke for.
    """

    address: str
    leave: Callable[[], None]
    gone: Callable[[], bool]
    until_s: float
    device: str | None = None
    stays: bool = False  # a page's socket


@dataclass(slots=True)
class Guests:
    """Those who are here, the oldest first. ``clock`` gives rising seconds."""

    clock: Callable[[], float]
    here: list[Guest] = field(default_factory=list)

    def enter(self, guest: Guest) -> None:
        """One more, for whom another may have to leave."""
        self.here = [one for one in self.here if not one.gone()]
        strangers = [one for one in self.here if one.device is None]
        same = [one for one in strangers if one.address == guest.address]
        if len(same) >= STRANGERS_OF_ADDRESS:
            self._let_go(same[0])
        elif len(strangers) >= STRANGERS_IN_ALL:
            self._let_go(_oldest_of_the_greediest(strangers))
        self.here.append(guest)

    def asks(self, guest: Guest, device: str | None, *, stays: bool) -> None:
        """A request has come whole, for this paired device or for nobody; it may stay open."""
        guest.until_s = math.inf if stays else self.clock() + PATIENCE_S
        guest.stays = stays
        if device is None:
            return
        guest.device = device
        theirs = [one for one in self.here if one.device == device and not one.gone()]
        if len(theirs) > OF_DEVICE:
            self._let_go(min(theirs, key=lambda one: (one.stays, theirs.index(one))))

    def is_answered(self, guest: Guest) -> None:
        """The answer is out; the next request may come."""
        guest.stays = False
        guest.until_s = self.clock() + PATIENCE_S

    def let_go_the_slow(self) -> None:
        """End every connection with which patience is over."""
        now_s = self.clock()
        for guest in [one for one in self.here if one.until_s <= now_s]:
            self._let_go(guest)

    def let_everybody_go(self) -> None:
        for guest in list(self.here):
            self._let_go(guest)

    def _let_go(self, guest: Guest) -> None:
        self.here.remove(guest)
        guest.leave()


def _oldest_of_the_greediest(strangers: Iterable[Guest]) -> Guest:
    """Of the address with the most connections, the one that has been here longest."""
    ordered = list(strangers)
    count = Counter(one.address for one in ordered)
    return max(reversed(ordered), key=lambda one: (count[one.address], -ordered.index(one)))
