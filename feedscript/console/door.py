"""The page's door: takes connections, knows which requests each makes, and lets the slow go."""

from __future__ import annotations

import asyncio
import socket
import ssl
from collections.abc import Callable, Coroutine, Iterator, Sequence
from contextlib import contextmanager, suppress
from typing import Any, TypeAlias

from starlette.requests import HTTPConnection
from starlette.types import ASGIApp, Receive, Scope, Send

from feedscript.console.access import COOKIE, Access
from feedscript.console.guests import PATIENCE_S, Guest, Guests

#: How often it is looked for those who are too slow.
LOOK_S = 0.25
#: After a connection that could not be taken, for instance when too many files are open.
BREATH_S = 0.05

MakeProtocol: TypeAlias = Callable[[], asyncio.Protocol]
Peer: TypeAlias = tuple[str, int]


def _peer(address: Sequence[Any] | None) -> Peer:
    """Who is at the other end, as the socket and a request name it alike."""
    return (str(address[0]), int(address[1])) if address else ("", 0)


class Door:
    """The door of one page; to be used from the event loop that serves the page."""

    def __init__(self, listener: socket.socket, tls: ssl.SSLContext | None) -> None:
        self._listener = listener
        self._tls = tls
        self._loop = asyncio.get_running_loop()
        self._guests = Guests(self._loop.time)
        self._by_peer: dict[Peer, Guest] = {}
        self._tasks: set[asyncio.Task[None]] = set()
        self._keeping: list[asyncio.Task[None]] = []

    def open(self, make: MakeProtocol) -> None:
        """Take connections from now on; each speaks what ``make`` makes."""
        self._keeping = [self._start(self._take(make)), self._start(self._look())]

    def close(self) -> None:
        """Take no more. Who is here stays."""
        for task in self._keeping:
            task.cancel()

    def let_everybody_go(self) -> None:
        self._guests.let_everybody_go()

    @contextmanager
    def request(self, scope: Scope, device: str | None) -> Iterator[None]:
        """A request that has come whole, for a paired device or nobody, until it is answered."""
        guest = self._by_peer.get(_peer(scope.get("client")))
        if guest is None:
            yield
            return
        stays = device is not None and scope["type"] == "websocket"
        self._guests.asks(guest, device, stays=stays)
        try:
            yield
        finally:
            self._guests.is_answered(guest)

    def _start(self, work: Coroutine[Any, Any, None]) -> asyncio.Task[None]:
        task = self._loop.create_task(work)
        self._tasks.add(task)
        task.add_done_callback(self._tasks.discard)
        return task

    async def _take(self, make: MakeProtocol) -> None:
        while True:
            try:
                connection, peer = await self._loop.sock_accept(self._listener)
            except OSError:  # it went again at once, or no more files may be opened
                await asyncio.sleep(BREATH_S)
                continue
            arrival = _Arrival(connection)
            until_s = self._loop.time() + PATIENCE_S
            guest = Guest(peer[0], arrival.leave, arrival.gone, until_s)
            self._guests.enter(guest)
            self._by_peer[_peer(peer)] = guest
            self._start(arrival.begin(self._loop, make, self._tls))
            await asyncio.sleep(0)  # those who wait in a row keep nobody else from a turn

    async def _look(self) -> None:
        while True:
            await asyncio.sleep(LOOK_S)
            self._guests.let_go_the_slow()
            self._by_peer = {p: one for p, one in self._by_peer.items() if not one.gone()}


class _Arrival:
    """A connection from its first moment on, also while it agrees on its keys."""

    def __init__(self, connection: socket.socket) -> None:
        self._connection = connection
        self._transport: asyncio.Transport | None = None
        self._ended = False

    async def begin(
        self, loop: asyncio.AbstractEventLoop, make: MakeProtocol, tls: ssl.SSLContext | None
    ) -> None:
        """Let it speak, once the keys are agreed on where there are any."""
        patience_s = None if tls is None else PATIENCE_S
        try:
            self._transport, _ = await loop.connect_accepted_socket(
                make, self._connection, ssl=tls, ssl_handshake_timeout=patience_s
            )
        except OSError:  # no keys were agreed on; ssl.SSLError and TimeoutError are such, too
            self._ended = True
            self._connection.close()
        if self._ended and self._transport is not None:
            self._transport.abort()

    def leave(self) -> None:
        self._ended = True
        if self._transport is not None:
            self._transport.abort()
            return
        with suppress(OSError):  # its transport, if it has one by now, sees the end and closes
            self._connection.shutdown(socket.SHUT_RDWR)

    def gone(self) -> bool:
        return self._ended or (self._transport is not None and self._transport.is_closing())


class Attended:
    """Tells the door of each request, and for which paired device it came."""

    def __init__(self, app: ASGIApp, door: Door, access: Access) -> None:
        self._app = app
        self._door = door
        self._access = access

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        device = self._access.device(HTTPConnection(scope).cookies.get(COOKIE))
        with self._door.request(scope, None if device is None else device.key):
            await self._app(scope, receive, send)
