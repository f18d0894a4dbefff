"""The news of one server process, given to whoever listens in it; from its event loop alone."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager

import anyio
from anyio.streams.memory import MemoryObjectReceiveStream, MemoryObjectSendStream

from feedscript.club.messages import News

#: So much news may wait for one who listens; who is slower is let go, and looks at everything anew.
#: Design value: some seconds of two hundred courts.
MOST_WAITING = 2_000


class Hub:
    """Everything that is told is given to everybody who listens, in order."""

    def __init__(self) -> None:
        self._listening: set[MemoryObjectSendStream[News]] = set()

    @contextmanager
    def news(self) -> Iterator[MemoryObjectReceiveStream[News]]:
        """All news from now on; the stream ends when the reader is too slow."""
        send, receive = anyio.create_memory_object_stream[News](MOST_WAITING)
        self._listening.add(send)
        with send, receive:
            try:
                yield receive
            finally:
                self._listening.discard(send)

    def tell(self, news: News) -> None:
        for one in tuple(self._listening):
            try:
                one.send_nowait(news)
            except anyio.WouldBlock:
                self._listening.discard(one)
                one.close()
