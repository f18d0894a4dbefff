"""A court is handed what its own players did on other courts: ``/api/hosts/history``.

Its own are those whom its own lessons name. Of the others who played along no name goes out, and
each record that does is noted before.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Iterable

import anyio.to_thread
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from feedscript.club.answers import answer, court_of, read_as, told
from feedscript.club.handed import (
    HISTORY,
    MOST_ASKED,
    MOST_HANDED,
    Handed,
    HandedLesson,
    Have,
    key_of,
)
from feedscript.club.people.bare import without_others
from feedscript.club.store.hosts import name_of
from feedscript.club.store.people import audit
from feedscript.club.store.people.audit import Act, player_key
from feedscript.club.store.people.handing import Elsewhere, elsewhere
from feedscript.club.store.people.players import Whole, whole
from feedscript.club.store.store import Store


class Handing:
    """The request, on one store."""

    def __init__(self, store: Store, utc_s: Callable[[], float] = time.time) -> None:
        self._store = store
        self._utc_s = utc_s

    def routes(self) -> list[Route]:
        """What a server mounts."""
        return [Route(HISTORY, told(self._hand), methods=["POST"])]

    async def _hand(self, request: Request) -> Response:
        host = await court_of(request, self._store)
        asked = await read_as(request, Have, MOST_ASKED)
        return answer(200, await anyio.to_thread.run_sync(self._handed, host, asked))

    def _handed(self, host: str, asked: Have) -> Handed:
        with self._store.writing() as connection:
            own, found = elsewhere(connection, host)
            new = [one for one in found if asked.have.get(key_of(one.host, one.lesson)) != one.held]
            lessons = []
            for one in new[:MOST_HANDED]:
                lesson = whole(connection, one.host, one.lesson)
                if lesson is not None:
                    lessons.append(_bare(lesson, one, own))
            court, now_utc_s = name_of(connection, host), self._utc_s()
            for player in sorted({name for one in new[:MOST_HANDED] for name in _own(one, own)}):
                audit.note(connection, now_utc_s, court, Act.READ_RECORD, player)
        return Handed(tuple(lessons))


def _own(lesson: Elsewhere, own: frozenset[str]) -> Iterable[str]:
    return (name for name in lesson.players if player_key(name) in own)


def _bare(lesson: Whole, found: Elsewhere, own: frozenset[str]) -> HandedLesson:
    bare = without_others(lesson, found.players, own)
    return HandedLesson(
        key=key_of(lesson.host, lesson.lesson), header=bare.head, events=bare.events
    )
