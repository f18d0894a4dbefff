"""Courts are told whom to forget, and say when they have: ``/api/hosts/forgotten``, with the
court's key."""

from __future__ import annotations

import time
from collections.abc import Callable

import anyio.to_thread
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from feedscript.club.answers import RefusedError, answer, court_of, read_as, told
from feedscript.club.messages import MOST_BYTES
from feedscript.club.refusals import REQUEST_REFUSED
from feedscript.club.store.hosts import name_of
from feedscript.club.store.people import audit, forgotten
from feedscript.club.store.people.audit import Act
from feedscript.club.store.store import Store
from feedscript.club.tombstones import FORGOTTEN, Obeyed, Tombstones


class Telling:
    """The two requests, on one store."""

    def __init__(self, store: Store, utc_s: Callable[[], float] = time.time) -> None:
        self._store = store
        self._utc_s = utc_s

    def routes(self) -> list[Route]:
        """What a server mounts."""
        return [
            Route(FORGOTTEN, told(self._tell), methods=["GET"]),
            Route(FORGOTTEN, told(self._hear), methods=["POST"]),
        ]

    async def _tell(self, request: Request) -> Response:
        host = await court_of(request, self._store)
        return answer(200, await anyio.to_thread.run_sync(self._stones, host))

    def _stones(self, host: str) -> Tombstones:
        with self._store.writing() as connection:
            found = forgotten.tombstones_for(connection, host)
            return found or Tombstones(key=forgotten.tombstone_key(connection))

    async def _hear(self, request: Request) -> Response:
        host = await court_of(request, self._store)
        obeyed = await read_as(request, Obeyed, MOST_BYTES)
        if not await anyio.to_thread.run_sync(self._obeyed, host, obeyed.number):
            said = REQUEST_REFUSED.report(
                f"nobody was told of a tombstone {obeyed.number}", help="ask for them first"
            )
            raise RefusedError(422, said)
        return answer(200, obeyed)

    def _obeyed(self, host: str, number: int) -> bool:
        now_utc_s = self._utc_s()
        with self._store.writing() as connection:
            if not forgotten.obey(connection, host, number, now_utc_s):
                return False
            court = name_of(connection, host)
            audit.note(connection, now_utc_s, court, Act.OBEYED, about=str(number))
        return True
