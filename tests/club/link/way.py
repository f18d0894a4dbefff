"""The way from courts to their club over real sockets, which somebody may cut, or let swallow all
that is said."""

from __future__ import annotations

import asyncio
import threading
from collections.abc import Iterator
from contextlib import contextmanager, suppress


class Way:
    """Passes bytes on from a port of its own. ``open``; ``cut``: connections end, none is taken;
    ``hole``: connections stay and are taken, and nothing comes through them any more."""

    def __init__(self, port: int) -> None:
        self.to = port
        self.port = 0
        self._state = "open"
        self._loop = asyncio.new_event_loop()
        self._ready = threading.Event()
        self._ends: set[asyncio.StreamWriter] = set()
        self._thread = threading.Thread(target=self._run, name="way to the club")

    @contextmanager
    def laid(self) -> Iterator[Way]:
        self._thread.start()
        self._ready.wait()
        try:
            yield self
        finally:
            self._loop.call_soon_threadsafe(self._loop.stop)
            self._thread.join()

    def becomes(self, state: str) -> None:
        self._loop.call_soon_threadsafe(self._become, state)

    def _become(self, state: str) -> None:
        if state == "cut" or self._state == "hole":  # what was lost in a hole is lost
            for end in tuple(self._ends):
                end.transport.abort()
        self._state = state

    def _run(self) -> None:
        asyncio.set_event_loop(self._loop)
        server = self._loop.run_until_complete(
            asyncio.start_server(self._take, "127.0.0.1", self.port)
        )
        self.port = server.sockets[0].getsockname()[1]
        self._ready.set()
        self._loop.run_forever()
        server.close()
        for task in asyncio.all_tasks(self._loop):
            task.cancel()
        self._loop.run_until_complete(asyncio.sleep(0.05))
        self._loop.close()

    async def _take(self, reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        with suppress(OSError):
            if self._state != "cut":
                there, back = await asyncio.open_connection("127.0.0.1", self.to)
                self._ends |= {writer, back}
                await asyncio.gather(self._pass(reader, back), self._pass(there, writer))
                self._ends -= {writer, back}
        writer.transport.abort()

    async def _pass(self, reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        with suppress(OSError):
            while some := await reader.read(65_536):
                if self._state != "hole":
                    writer.write(some)
                    await writer.drain()
        writer.close()
