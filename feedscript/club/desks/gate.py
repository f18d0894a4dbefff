"""The way from a coach's browser to the coach's desk: who may, and what is passed on.

Programs are listed, read and saved here, on the store; all that takes long is asked of the desk's
own process.
"""

from __future__ import annotations

from collections.abc import Awaitable, Callable
from contextlib import suppress
from functools import partial
from urllib.parse import quote

import anyio
import anyio.to_thread
import httpx
import msgspec
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import BaseRoute, Mount, Route, WebSocketRoute
from starlette.staticfiles import StaticFiles
from starlette.websockets import WebSocket, WebSocketDisconnect
from websockets.asyncio.client import ClientConnection
from websockets.exceptions import ConnectionClosed

from feedscript.club.answers import RefusedError, person_of
from feedscript.club.desks.asked import CHECKED, Checked
from feedscript.club.desks.coach_desk import CoachDesk
from feedscript.club.desks.desks import Desks
from feedscript.club.desks.programs import ClubPrograms
from feedscript.club.library.shelf import Shelf
from feedscript.club.server.club import Club
from feedscript.club.server.host_socket import POLICY_VIOLATION, TRY_AGAIN_LATER
from feedscript.club.who import Person, may_use_desk
from feedscript.console.page_in import tongue_of
from feedscript.console.walls import body_of, refused_with
from feedscript.desk.files import Programs
from feedscript.desk.page import STATIC
from feedscript.desk.program_routes import MOST_REQUEST, program_routes
from feedscript.diagnostics import FeedscriptError
from feedscript.tongues.tongue import Tongues

#: So many pages of one coach are open at a desk. Design value.
MOST_TABS = 6
#: How often it is looked whether whoever is at a desk may still be there, s.
STILL_MAY_S = 30.0

Handler = Callable[[Request], Awaitable[Response]]


class Gate:
    """What every request of a desk goes through."""

    def __init__(
        self,
        club: Club,
        shelf: Shelf,
        desks: Desks,
        tongues: Tongues = Tongues(),  # noqa: B008 (a frozen value)
    ) -> None:
        self._club = club
        self._shelf = shelf
        self.desks = desks
        desks.bring = lambda person, desk: self._programs(person, desk).bring()
        self.tongues = tongues

    def routes(self) -> list[BaseRoute]:
        """What a server mounts, behind its page of the desk."""
        passed_on = [
            ("/first-lesson", ["GET", "POST"]),
            *((f"/{kind}/{{name:path}}", ["GET"]) for kind in ("played", "tried", "tested")),
            ("/papers/{kind}/{name:path}", ["GET"]),
        ]
        return [
            *program_routes(self._whose, self.tongues),
            *(Route(place, self._pass_on, methods=methods) for place, methods in passed_on),
            WebSocketRoute("/words/{name:path}", self._words),
            Mount("/desk", StaticFiles(directory=STATIC)),
        ]

    async def person(self, request: Request) -> Person | Response:
        """Who asks, if that person may; else the answer that refuses."""
        try:
            return await person_of(request, self._club.who, may_use_desk, "use a desk")
        except RefusedError as refused:
            tongue = tongue_of(request, self.tongues)
            return refused_with(refused.diagnostic, refused.status, tongue)

    def _programs(self, person: str, desk: CoachDesk) -> ClubPrograms:
        return ClubPrograms(self._club.store, self._shelf, person, desk.copied)

    async def brought(self, person: Person) -> CoachDesk:
        """The person's desk, with everything on it as the store has it. Raises FeedscriptError."""
        desk = await self.desks.of(person.id)
        await anyio.to_thread.run_sync(self._programs(person.id, desk).bring)
        return desk

    async def checked(self, person: Person, name: str) -> Checked:
        """What the check says of one of the person's programs, as it is saved. Raises
        FeedscriptError."""
        desk = await self.brought(person)
        answer = await desk.ask("GET", CHECKED.format(name=quote(name, safe="")))
        return msgspec.json.decode(answer.content, type=Checked)

    async def _whose(self, request: Request) -> Programs | Response:
        person = await self.person(request)
        if isinstance(person, Response):
            return person
        try:
            return self._programs(person.id, await self.desks.of(person.id))
        except FeedscriptError as full:
            return refused_with(full.diagnostic, 503, tongue_of(request, self.tongues))

    async def _pass_on(self, request: Request) -> Response:
        person = await self.person(request)
        if isinstance(person, Response):
            return person
        body = await body_of(request, MOST_REQUEST)
        if body is None:
            return Response(status_code=413)
        # Dots too: a client would take `..` for the way up, to what the desk has beside.
        place = quote(request.scope["path"], safe="/").replace(".", "%2E")
        if request.scope["query_string"]:
            place += f"?{request.scope['query_string'].decode('latin-1')}"
        try:
            desk = await self.brought(person)
            language = tongue_of(request, self.tongues).language
            return same(await desk.ask(request.method, place, body, language))
        except FeedscriptError as failed:
            return refused_with(failed.diagnostic, 503, tongue_of(request, self.tongues))

    async def _words(self, socket: WebSocket) -> None:
        """The language's server for one program: as the desk's own page has it."""
        try:
            person = await person_of(socket, self._club.who, may_use_desk, "use a desk")
            desk = await self.brought(person)
            if desk.tabs >= MOST_TABS:
                await socket.close(TRY_AGAIN_LATER)
                return
            desk.tabs += 1
            try:
                language = tongue_of(socket, self.tongues).language
                name = str(socket.path_params["name"])
                async with desk.words(name, language) as own:
                    await socket.accept()
                    await self._both_ways(socket, own)
            finally:
                desk.tabs -= 1
        except RefusedError:
            await socket.close(POLICY_VIOLATION)
        except FeedscriptError:
            await socket.close(TRY_AGAIN_LATER)

    async def _both_ways(self, socket: WebSocket, own: ClientConnection) -> None:
        async with anyio.create_task_group() as group:
            for way in (
                partial(_down, socket, own),
                partial(_up, socket, own),
                partial(self._while_allowed, socket),
            ):
                group.start_soon(_until, way, group.cancel_scope)

    async def _while_allowed(self, socket: WebSocket) -> None:
        """Whoever has been signed out meanwhile writes no more."""
        allowed = True
        while allowed:
            await anyio.sleep(STILL_MAY_S)
            person = await anyio.to_thread.run_sync(self._club.who, socket)
            allowed = person is not None and may_use_desk(person)
        await socket.close(POLICY_VIOLATION)


#: What the end of a socket, or of the store, comes as: starlette raises RuntimeError for a send
#: after the close.
_ENDS = (WebSocketDisconnect, ConnectionClosed, RuntimeError, OSError, FeedscriptError)


async def _until(way: Callable[[], Awaitable[None]], scope: anyio.CancelScope) -> None:
    """One side has ended: so does the other."""
    with suppress(*_ENDS):
        await way()
    scope.cancel()


async def _down(socket: WebSocket, own: ClientConnection) -> None:
    with suppress(ConnectionClosed):
        async for message in own:
            await socket.send_text(message if isinstance(message, str) else message.decode())
    # The desk lets a page go that sends what no page of ours does; else it has ended itself.
    refused = own.close_code == POLICY_VIOLATION
    await socket.close(POLICY_VIOLATION if refused else TRY_AGAIN_LATER)


async def _up(socket: WebSocket, own: ClientConnection) -> None:
    while True:
        await own.send(await socket.receive_text())


def same(answer: httpx.Response) -> Response:
    """The desk's answer, as the browser gets it."""
    kept = ("content-type", "content-security-policy")
    headers = {name: answer.headers[name] for name in kept if name in answer.headers}
    return Response(answer.content, answer.status_code, headers=headers)
