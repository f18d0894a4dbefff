"""The sockets of courts at this server process, and what is to be said on them."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager

import anyio
from anyio.streams.memory import MemoryObjectReceiveStream, MemoryObjectSendStream

from feedscript.club.messages import ToHost

#: A court that takes nothing for so many messages is let go, and comes again.
MOST_WAITING = 100


class Lines:
    """From the event loop alone. A court may have several sockets; each is told everything."""

    def __init__(self) -> None:
        self._of: dict[str, set[MemoryObjectSendStream[ToHost]]] = {}

    @contextmanager
    def open(self, host: str) -> Iterator[MemoryObjectReceiveStream[ToHost]]:
        """What is to be said to this court from now on; it ends when it is too slow."""
        send, receive = anyio.create_memory_object_stream[ToHost](MOST_WAITING)
        self._of.setdefault(host, set()).add(send)
        with send, receive:
            try:
                yield receive
            finally:
                self._drop(host, send)

    def has(self, host: str) -> bool:
        """Whether the court has a socket here."""
        return host in self._of

    def say(self, host: str, message: ToHost) -> None:
        """Say it to the court, if it has a socket here."""
        for one in tuple(self._of.get(host, ())):
            try:
                one.send_nowait(message)
            except anyio.WouldBlock:
                self._drop(host, one)
                one.close()

    def say_to_all(self, message: ToHost) -> None:
        for host in tuple(self._of):
            self.say(host, message)

    def _drop(self, host: str, line: MemoryObjectSendStream[ToHost]) -> None:
        lines = self._of.get(host, set())
        lines.discard(line)
        if not lines:
            self._of.pop(host, None)
