"""A connection that was kept open may end just as it is used again; what was asked on it is asked
once more, but for a code that works once."""

from __future__ import annotations

import threading
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from socket import socket

import anyio
import pytest

from feedscript.club.batch import Batch
from feedscript.club.link.door import Door, NotHeardError, at_the_door, join

ANSWER = (
    b'HTTP/1.1 200 OK\r\nContent-Type: application/json\r\nContent-Length: 11\r\n\r\n{"held":{}}'
)


class Impatient:
    """Answers one request on each connection, and closes it at the next one's first letter."""

    def __init__(self) -> None:
        self.asked = 0
        self._listening = socket()
        self._listening.bind(("127.0.0.1", 0))
        self._listening.listen()
        self.url = f"http://127.0.0.1:{self._listening.getsockname()[1]}"
        self._thread = threading.Thread(target=self._take)

    @contextmanager
    def answering(self) -> Iterator[Impatient]:
        self._thread.start()
        try:
            yield self
        finally:
            self._listening.shutdown(2)
            self._listening.close()
            self._thread.join()

    def _take(self) -> None:
        with suppress(OSError):
            while True:
                peer = self._listening.accept()[0]
                with peer:
                    self._answer(peer)

    def _answer(self, peer: socket) -> None:
        if peer.recv(4096):
            self.asked += 1
            peer.sendall(ANSWER)
            peer.recv(1)


@pytest.fixture
def club() -> Iterator[Impatient]:
    with Impatient().answering() as answering:
        yield answering


def test_a_kept_connection_that_ends_as_it_is_used_again_costs_nothing(club: Impatient) -> None:
    async def main() -> None:
        async with at_the_door(club.url, key="k") as client:
            door = Door(client)
            for _ in range(3):
                assert await door.held() == {}
                assert await door.send(Batch(())) == {}

    anyio.run(main)
    assert club.asked == 6


def test_a_code_is_spent_once_whatever_the_connection_does(club: Impatient) -> None:
    async def main() -> None:
        async with at_the_door(club.url) as client:
            await Door(client).held()
            with pytest.raises(NotHeardError):
                await join(club.url, "2345-6789-ABCD-EFGH", "court one", client=client)

    anyio.run(main)
    assert club.asked == 1
