"""Takes the connections of the page, knows which requests each makes, and lets the slow go."""

from __future__ import annotations

import asyncio
import socket
import ssl
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager, suppress
from typing import Any, TypeAlias

from starlette.requests import HTTPConnection
from starlette.types import ASGIApp, Receive, Scope, Send

from feedscript.console.access import Access
from feedscript.console.connections import PATIENCE_S, Connection, Connections
from feedscript.console.walls import device_of, token_of

#: How often it is looked for those who are too slow.
LOOK_S = 0.25
#: So many connections are taken before others get a turn. A request that came with its connection
#: is at the page five turns later; by then no more than are kept have come after it.
AT_A_TIME = 2

#: How long the body of a request and its answer may take for one who was recognised by its head,
#: s: some megabytes from a bad network. Design value.
KNOWN_PATIENCE_S = 120.0
#: Where in a request's scope an application finds how to say that it has recognised who asks.
RECOGNISE = "feedscript.recognise"

Recognise: TypeAlias = Callable[[str], None]
MakeProtocol: TypeAlias = Callable[[], asyncio.Protocol]
Peer: TypeAlias = tuple[str, int]


def _peer(address: Sequence[Any] | None) -> Peer:
    """Who is at the other end, as the socket and a request name it alike."""
    return (str(address[0]), int(address[1])) if address else ("", 0)


class Acceptor:
    """Takes the connections of one page; to be used from the event loop that serves the page."""

    def __init__(self, listener: socket.socket, tls: ssl.SSLContext | None) -> None:
        self._listener = listener
        self._tls = tls
        self._loop = asyncio.get_running_loop()
        self._connections = Connections(self._loop.time)
        self._by_peer: dict[Peer, Connection] = {}
        self._make: MakeProtocol = asyncio.Protocol
        self._looking: asyncio.TimerHandle | None = None

    def open(self, make: MakeProtocol) -> None:
        """Take connections from now on; each speaks what ``make`` makes."""
        self._make = make
        self._loop.add_reader(self._listener, self._take)
        self._look()

    def close(self) -> None:
        """Take no more. Who is here stays."""
        self._loop.remove_reader(self._listener)
        if self._looking is not None:
            self._looking.cancel()

    def let_everybody_go(self) -> None:
        self._connections.let_everybody_go()

    @contextmanager
    def request(self, scope: Scope, device: str | None) -> Iterator[Recognise]:
        """A request whose head has come, for a paired device or nobody, until it is answered. One
        who is recognised only while it is answered is given more time for it."""
        connection = self._by_peer.get(_peer(scope.get("client")))
        if connection is None:
            yield lambda _device: None
            return
        lasts = scope["type"] == "websocket"
        self._connections.asks(connection, device, stays=device is not None and lasts)

        def recognise(known: str) -> None:
            self._connections.asks(connection, known, stays=lasts, patience_s=KNOWN_PATIENCE_S)

        try:
            yield recognise
        finally:
            self._connections.is_answered(connection)

    def _take(self) -> None:
        for _ in range(AT_A_TIME):
            try:
                accepted, peer = self._listener.accept()
            except OSError:  # nobody waits, or no more files may be opened: at the next look
                return
            accepted.setblocking(False)
            arrival = _Accepted(self._loop, accepted, self._make, self._tls)
            until_s = self._loop.time() + PATIENCE_S
            connection = Connection(peer[0], arrival.leave, arrival.gone, arrival.spoke, until_s)
            self._connections.enter(connection)
            self._by_peer[_peer(peer)] = connection

    def _look(self) -> None:
        self._connections.look()
        self._by_peer = {peer: one for peer, one in self._by_peer.items() if not one.gone()}
        self._looking = self._loop.call_later(LOOK_S, self._look)


def _abort(transport: asyncio.Transport) -> None:
    """End a connection at once, whatever is still to be said on it."""
    # Python 3.11.2 (Debian 12) has nothing left to abort of a TLS transport that was closed twice:
    # it has forgotten its protocol, and is ending by itself.
    with suppress(AttributeError):
        transport.abort()


class _Accepted:
    """A connection from its first moment on. One that says nothing costs nothing: what it may speak
    is made when its first letter is here."""

    def __init__(
        self,
        loop: asyncio.AbstractEventLoop,
        connection: socket.socket,
        make: MakeProtocol,
        tls: ssl.SSLContext | None,
    ) -> None:
        self._loop = loop
        self._connection = connection
        self._make = make
        self._tls = tls
        self._beginning: asyncio.Task[None] | None = None
        self._transport: asyncio.Transport | None = None
        self._ended = False
        loop.add_reader(connection, self._speaks)

    def leave(self) -> None:
        """End it, however far it has come."""
        if self._ended:
            return
        self._ended = True
        if self._transport is not None:
            _abort(self._transport)
        elif self._beginning is None:
            self._loop.remove_reader(self._connection)
            self._connection.close()
        else:
            with suppress(OSError):  # what is being made of it sees the end and closes
                self._connection.shutdown(socket.SHUT_RDWR)

    def gone(self) -> bool:
        return self._ended or (self._transport is not None and self._transport.is_closing())

    def spoke(self) -> bool:
        return self._beginning is not None

    def _speaks(self) -> None:
        self._loop.remove_reader(self._connection)
        try:
            said = self._connection.recv(1, socket.MSG_PEEK)
        except OSError:
            said = b""
        if said:
            self._beginning = self._loop.create_task(self._begin())
        else:
            self.leave()

    async def _begin(self) -> None:
        """Let it speak, once the keys are agreed on where there are any."""
        patience_s = None if self._tls is None else PATIENCE_S
        try:
            self._transport, _ = await self._loop.connect_accepted_socket(
                self._make, self._connection, ssl=self._tls, ssl_handshake_timeout=patience_s
            )
        except OSError:  # no keys were agreed on; ssl.SSLError and TimeoutError are such, too
            self._ended = True
            self._connection.close()
        if self._ended and self._transport is not None:
            _abort(self._transport)


class RequestsTold:
    """Tells the acceptor of each request, and for whom it came: ``known`` names one who is known
    here, by what he sends along."""

    def __init__(
        self, app: ASGIApp, acceptor: Acceptor, known: Callable[[HTTPConnection], str | None]
    ) -> None:
        self._app = app
        self._acceptor = acceptor
        self._known = known

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] == "lifespan":
            await self._app(scope, receive, send)
            return
        with self._acceptor.request(scope, self._known(HTTPConnection(scope))) as recognise:
            scope[RECOGNISE] = recognise
            await self._app(scope, receive, send)


def paired_by(access: Access) -> Callable[[HTTPConnection], str | None]:
    """Known is who sends along the token of a device that was paired here. Who has nothing else,
    as a browser that opens the page, takes no room from the device's pages."""

    def known(asks: HTTPConnection) -> str | None:
        device = device_of(asks, access)
        if device is not None:
            return device.key
        device = access.device(token_of(asks))
        return None if device is None else f"{device.key} by its cookie alone"

    return known
