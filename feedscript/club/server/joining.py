"""A court's computer joins: the head coach makes a code, the computer spends it for its own key."""

from __future__ import annotations

import time
from collections.abc import Callable

import anyio.to_thread
import msgspec
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from feedscript.club.answers import RefusedError, answer, person_of, read_as, told
from feedscript.club.messages import INVITE, JOIN, MOST_BYTES, Invitation, JoinAnswer, JoinRequest
from feedscript.club.refusals import CODE_SPENT
from feedscript.club.server.club import Club
from feedscript.club.store import hosts
from feedscript.club.who import may_invite


class NoBody(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """A request that says nothing more."""


class Joining:
    """The two requests. ``utc_s`` is the time of day by which codes grow old."""

    def __init__(self, club: Club, utc_s: Callable[[], float] = time.time) -> None:
        self._club = club
        self._utc_s = utc_s

    def routes(self) -> list[Route]:
        return [
            Route(INVITE, told(self._invite), methods=["POST"]),
            Route(JOIN, told(self._join), methods=["POST"]),
        ]

    async def _invite(self, request: Request) -> Response:
        await person_of(request, self._club.who, may_invite, "let a court join")
        await read_as(request, NoBody, MOST_BYTES)
        until_s = self._utc_s() + hosts.CODE_LIFE_S
        code = await anyio.to_thread.run_sync(hosts.new_code, self._club.store, until_s)
        return answer(200, Invitation(code=code, until_utc_s=until_s))

    async def _join(self, request: Request) -> Response:
        asked = await read_as(request, JoinRequest, MOST_BYTES)
        joined = await anyio.to_thread.run_sync(
            hosts.join, self._club.store, asked.code, asked.name, self._utc_s()
        )
        if joined is None:
            raise RefusedError(
                403,
                CODE_SPENT.report(
                    "the code is not valid (it works once, for ten minutes)",
                    help="ask the head coach for a new one: feedscript club invite",
                ),
            )
        return answer(200, JoinAnswer(host=joined.host, key=joined.key))
