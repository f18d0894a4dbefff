"""The acceptor ends every connection, whatever state the other end left it in."""

from __future__ import annotations

import asyncio
import socket

from feedscript.console.acceptor import _Accepted


class ClosedTwice(asyncio.Transport):
    """A TLS transport as Python 3.11.2 leaves it: its second close forgets what abort asks."""

    _ssl_protocol = None

    def abort(self) -> None:
        self._ssl_protocol._abort()  # type: ignore[attr-defined]


def test_a_connection_that_was_closed_twice_is_let_go() -> None:
    async def leave() -> bool:
        here, there = socket.socketpair()
        with here, there:
            loop = asyncio.get_running_loop()
            arrival = _Accepted(loop, here, asyncio.Protocol, None)
            loop.remove_reader(here)
            arrival._transport = ClosedTwice()
            arrival.leave()
            return arrival.gone()

    assert asyncio.run(leave())
