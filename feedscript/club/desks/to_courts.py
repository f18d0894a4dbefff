"""A court fetches what coaches have handed to it: ``/api/hosts/programs``."""

from __future__ import annotations

import hashlib
import re
from collections.abc import Iterable

import anyio.to_thread
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from feedscript.club.answers import answer, court_of, told
from feedscript.club.handed import PROGRAMS, HandedProgram, HandedPrograms
from feedscript.club.store import programs
from feedscript.club.store.programs import MOST_NAME, HandedOn
from feedscript.club.store.store import Store

#: What a coach's folder on a court is called at most.
_MOST_FOLDER = 40


class ToCourts:
    """The request, on one store."""

    def __init__(self, store: Store) -> None:
        self._store = store

    def routes(self) -> list[Route]:
        """What a server mounts."""
        return [Route(PROGRAMS, told(self._fetched))]

    async def _fetched(self, request: Request) -> Response:
        host = await court_of(request, self._store)
        return answer(200, await anyio.to_thread.run_sync(self._of, host))

    def _of(self, host: str) -> HandedPrograms:
        with self._store.reading() as connection:
            handed = programs.handed_to(connection, host)
        of_coach = folders(handed)
        return HandedPrograms(
            tuple(
                HandedProgram(
                    folder=of_coach[one.person],
                    name=one.name[:MOST_NAME].strip(),
                    sha256=hashlib.sha256(one.words.encode()).hexdigest(),
                    words=one.words,
                )
                for one in _once(handed)
            )
        )


def _once(handed: Iterable[HandedOn]) -> Iterable[HandedOn]:
    """Of two that have come to be called the same, a player's name taken out of both, the newer."""
    return {(one.person, one.name): one for one in reversed(list(handed))}.values()


def folders(handed: Iterable[HandedOn]) -> dict[str, str]:
    """What the folder of each coach is called on a court, by the coach's account."""
    coaches = dict(sorted((one.person, one.coach) for one in handed))
    found: dict[str, str] = {}
    for person, coach in coaches.items():
        plain = re.sub(r"[^\w -]+", " ", coach).strip(" _-")
        name = " ".join(plain.split())[:_MOST_FOLDER].strip() or "coach"
        taken = {one.casefold() for one in found.values()}
        number, own = 2, name
        while own.casefold() in taken:
            own, number = f"{name} {number}", number + 1
        found[person] = own
    return found
