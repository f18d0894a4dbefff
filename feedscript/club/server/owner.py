"""Whoever reads the server's own terminal is its owner: a code shown there opens a session as head
coach, once."""

from __future__ import annotations

from starlette.requests import HTTPConnection, Request
from starlette.responses import Response
from starlette.routing import Route

from feedscript.club.who import Person, Role
from feedscript.console.access import Access
from feedscript.console.access import Role as Paired
from feedscript.console.walls import paired_answer
from feedscript.session.engine.wall_clock import elapsed_s

COOKIE = "feedscript_club_owner"
ENTER = "/api/enter"


class Owner:
    """The code, and who came in by it."""

    def __init__(self) -> None:
        self._access = Access(elapsed_s)

    def code(self) -> str:
        """A fresh one; it works once, within ten minutes."""
        return self._access.new_code(Paired.COACH)

    def who(self, asks: HTTPConnection) -> Person | None:
        device = self._access.device(asks.cookies.get(COOKIE))
        if device is None:
            return None
        return Person(id="owner", name=device.name, role=Role.HEAD_COACH)

    def routes(self) -> list[Route]:
        return [Route(ENTER, self._enter, methods=["POST"])]

    async def _enter(self, request: Request) -> Response:
        return await paired_answer(request, self._access, cookie=COOKIE)
