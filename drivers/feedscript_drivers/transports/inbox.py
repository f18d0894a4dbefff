"""A byte stream whose far end lies in the same process: what comes is kept until it is read."""

from __future__ import annotations

from abc import abstractmethod

import anyio
from anyio.abc import ByteStream

from feedscript.override import override


class InboxStream(ByteStream):
    """The receiving half; whoever derives from it says what becomes of what is sent."""

    def __init__(self) -> None:
        self._coming = bytearray()
        self._news = anyio.Event()
        self._closed = False

    @abstractmethod
    @override
    async def send(self, item: bytes) -> None: ...

    def come(self, data: bytes) -> None:
        """The far end said this; after closing it is not heard."""
        if data and not self._closed:
            self._coming += data
            self._news.set()

    @override
    async def receive(self, max_bytes: int = 65536) -> bytes:
        while not self._coming:
            if self._closed:
                raise anyio.EndOfStream
            self._news = anyio.Event()
            await self._news.wait()
        data = bytes(self._coming[:max_bytes])
        del self._coming[:max_bytes]
        return data

    @override
    async def send_eof(self) -> None:
        self._closed = True

    @override
    async def aclose(self) -> None:
        self._closed = True
        self._news.set()
