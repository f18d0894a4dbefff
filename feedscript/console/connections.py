"""Which connections the page keeps, and which have to make room.

Strangers are few at a time, and are let go when they do not say soon what they want. When there are
too many, the newest is let in and somebody else has to go: one of the same address, or of the one
with the most, first who has said nothing. So nobody can take all the room from the others, however
many come. For strangers no connection makes room that spoke for a paired device, nor one of the
address that a paired device spoke from, unless the stranger comes from there too.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable

import msgspec

#: From the opening of a connection to the end of a request's head, and from there to the end of
#: the answer; a phone on a bad network needs well under a second for each. Design value.
PATIENCE_S = 5.0
#: Between two requests of one who is known, s: whoever asks again every few seconds shall not have
#: to agree on keys each time. Design value.
IDLE_S = 60.0
#: A browser opens six connections to one place at a time, and a hall's phones may share one
#: address. A thousand that come every second keep nobody from the quarter of one that a phone on a
#: bad network takes to say what it wants. Design values, below the 1,024 a process may hold open.
STRANGERS_OF_ADDRESS = 32
STRANGERS_IN_ALL = 256
#: Two pages of a browser with all their connections.
OF_DEVICE = 16


class Connection(msgspec.Struct, eq=False):
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


class Connections:
    """Those who are here. ``clock`` gives rising seconds."""

    def __init__(self, clock: Callable[[], float]) -> None:
        self.clock = clock
        self._strangers: dict[str, dict[Connection, None]] = {}  # by address, oldest first
        self._count = 0  # of strangers
        self._devices: dict[str, dict[Connection, None]] = {}  # by device
        self._homes: set[str] = set()  # addresses that paired devices spoke from

    @property
    def here(self) -> list[Connection]:
        """Everybody, in no order."""
        groups = [*self._strangers.values(), *self._devices.values()]
        return [connection for group in groups for connection in group]

    def enter(self, connection: Connection) -> None:
        """One more, for whom another may have to leave."""
        same = self._strangers.setdefault(connection.address, {})
        if len(same) >= STRANGERS_OF_ADDRESS:
            self._let_go(_first_to_go(same))
        elif self._count >= STRANGERS_IN_ALL:
            self._let_go(_first_to_go(self._strangers[self._greediest()]))
        self._strangers.setdefault(connection.address, {})[connection] = None
        self._count += 1

    def asks(
        self,
        connection: Connection,
        device: str | None,
        *,
        stays: bool,
        patience_s: float = PATIENCE_S,
    ) -> None:
        """A request has come whole, for this paired device or for nobody; it may stay open, or be
        answered within so long."""
        connection.until_s = math.inf if stays else self.clock() + patience_s
        connection.stays = stays
        if device is None:
            return
        self._forget(connection)
        connection.device = device
        self._homes.add(connection.address)
        theirs = self._devices.setdefault(device, {})
        theirs[connection] = None
        if len(theirs) > OF_DEVICE:
            self._let_go(next((one for one in theirs if not one.stays), next(iter(theirs))))

    def is_answered(self, connection: Connection) -> None:
        """The answer is out; the next request may come."""
        connection.stays = False
        patience_s = PATIENCE_S if connection.device is None else IDLE_S
        connection.until_s = self.clock() + patience_s

    def look(self) -> None:
        """Forget who has gone, and end every connection with which patience is over."""
        now_s = self.clock()
        for connection in self.here:
            if connection.gone():
                self._forget(connection)
            elif connection.until_s <= now_s:
                self._let_go(connection)

    def let_everybody_go(self) -> None:
        for connection in self.here:
            self._let_go(connection)

    def _greediest(self) -> str:
        """The address with the most strangers; one where no paired device is, if there is any."""
        elsewhere = [address for address in self._strangers if address not in self._homes]
        return max(elsewhere or self._strangers, key=lambda a: len(self._strangers[a]))

    def _let_go(self, connection: Connection) -> None:
        self._forget(connection)
        connection.leave()

    def _forget(self, connection: Connection) -> None:
        groups, key = self._strangers, connection.address
        if connection.device is not None:
            groups, key = self._devices, connection.device
        group = groups.get(key, {})
        if connection in group:
            del group[connection]
            self._count -= connection.device is None
            if not group:
                del groups[key]


def _first_to_go(connections: Iterable[Connection]) -> Connection:
    """The oldest that has said nothing; where all have, the oldest."""
    ordered = list(connections)
    return next((one for one in ordered if not one.spoke()), ordered[0])
