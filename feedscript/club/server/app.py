"""The club's web application: for courts, for pages, and for whoever asks whether it is well."""

from __future__ import annotations

import time
from collections.abc import AsyncIterator, Sequence
from contextlib import asynccontextmanager

import anyio
import anyio.to_thread
from starlette.applications import Starlette
from starlette.middleware import Middleware
from starlette.middleware.trustedhost import TrustedHostMiddleware
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import BaseRoute, Route, WebSocketRoute
from starlette.websockets import WebSocket

from feedscript.club.answers import answer, person_of, read_as, told
from feedscript.club.desks.to_courts import ToCourts
from feedscript.club.intake import Intake
from feedscript.club.messages import (
    LAUNCHERS,
    LIVE,
    MOST_BYTES,
    NEWS,
    STOP,
    Health,
    StopRequest,
)
from feedscript.club.people.handing import Handing
from feedscript.club.people.telling import Telling
from feedscript.club.server.club import Club
from feedscript.club.server.host_socket import serve_host
from feedscript.club.server.joining import Joining
from feedscript.club.server.page_socket import serve_page
from feedscript.club.who import may_keep_library, may_stop
from feedscript.console.walls import GuardedHeaders

HEALTH = "/health"


def make_app(club: Club, names: Sequence[str], pages: Sequence[BaseRoute] = ()) -> Starlette:
    """The application. ``names`` are those it answers to: any other Host header is refused, which
    keeps a foreign page from rebinding its name to this machine. ``pages`` are routes of pages."""

    @asynccontextmanager
    async def lifespan(_app: Starlette) -> AsyncIterator[None]:
        async with club.running():
            yield

    asked = _Asked(club)
    app = Starlette(
        routes=[
            *Intake(club.store).routes(),
            *Joining(club).routes(),
            *Telling(club.store).routes(),
            *Handing(club.store).routes(),
            *ToCourts(club.store).routes(),
            Route(STOP, told(asked.stop), methods=["POST"]),
            Route(LAUNCHERS, told(asked.launchers)),
            Route(HEALTH, told(asked.health)),
            WebSocketRoute(LIVE, asked.live),
            WebSocketRoute(NEWS, asked.news),
            *pages,
        ],
        middleware=[
            Middleware(TrustedHostMiddleware, allowed_hosts=list(names)),
            Middleware(GuardedHeaders),
        ],
        lifespan=lifespan,
    )
    app.state.known = club.known
    return app


class _Asked:
    """The handlers, around what they share."""

    def __init__(self, club: Club) -> None:
        self._club = club

    async def stop(self, request: Request) -> Response:
        """Stop a court. The answer says that it was asked, and nothing of its having stopped."""
        person = await person_of(request, self._club.who, may_stop, "stop a court")
        asked = await read_as(request, StopRequest, MOST_BYTES)
        return answer(202, await self._club.stopping.ask(asked.host, person.name))

    async def launchers(self, request: Request) -> Response:
        """Where each launcher stands, what it does, and what to measure or mend next."""
        await person_of(request, self._club.who, may_keep_library, "see the launchers")
        sheets = await anyio.to_thread.run_sync(self._club.launchers.sheets, time.time())
        return answer(200, sheets)

    async def health(self, _request: Request) -> Response:
        """Whether it works; for whatever starts it again, so without a word of the club."""
        if self._club.fault is not None:
            return answer(503, Health(well=False))
        await anyio.to_thread.run_sync(self._club.store.try_out)
        return answer(200, Health(well=True))

    async def live(self, socket: WebSocket) -> None:
        await serve_host(socket, self._club)

    async def news(self, socket: WebSocket) -> None:
        await serve_page(socket, self._club)
