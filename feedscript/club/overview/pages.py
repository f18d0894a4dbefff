"""The pages: all courts, and one court's screen for its group; and the socket of both."""

from __future__ import annotations

from collections.abc import Awaitable, Callable
from pathlib import Path

import anyio
import anyio.to_thread
import msgspec
from starlette.requests import Request
from starlette.responses import FileResponse, HTMLResponse, RedirectResponse, Response
from starlette.routing import BaseRoute, Mount, Route, WebSocketRoute
from starlette.staticfiles import StaticFiles
from starlette.websockets import WebSocket, WebSocketDisconnect

from feedscript.club.answers import RefusedError, person_of
from feedscript.club.overview.board import Board
from feedscript.club.overview.card import without_names
from feedscript.club.server.club import Club
from feedscript.club.server.host_socket import POLICY_VIOLATION, TRY_AGAIN_LATER
from feedscript.club.who import Person, Role, may_look, may_stop
from feedscript.console.page_in import STATIC as LESSON_STATIC
from feedscript.console.page_in import page_in, tongue_of
from feedscript.diagnostics import FeedscriptError
from feedscript.tongues.tongue import Tongue, Tongues
from feedscript.visible import all_visible

STATIC = Path(__file__).parent / "static"
OVERVIEW = "/courts"
LIVE = "/courts/live"
#: Scripts of the court-side page: words in the page's language.
SHARED = ("words.js", "language.js", "page_key.js")
#: Something is said at least this often, s, so that a page knows within 3 s that it is alone.
STILL_S = 1.0
#: News of one court come no more often than this, s: a page draws no faster.
TOGETHER_S = 0.1
#: How often it is looked whether whoever looks may still do so, s.
STILL_MAY_S = 30.0


def sees_names(person: Person) -> bool:
    """Who sees who is on: those who stand before the children anyway. A wall needs no names."""
    return person.role in (Role.COACH, Role.HEAD_COACH)


def overview_of(club: Club) -> list[BaseRoute]:
    """The overview's routes; its board follows the club's news from when the server begins."""
    board = Board(club)
    club.works.append(board.run)
    return Pages(club, board).routes()


class Pages:
    """The handlers, around what they share."""

    def __init__(self, club: Club, board: Board, tongues: Tongues = Tongues()) -> None:  # noqa: B008
        self._club = club
        self._board = board
        self._tongues = tongues

    def routes(self) -> list[BaseRoute]:
        """What a server mounts."""
        shared = [Route(f"/static/{name}", _file(name)) for name in SHARED]
        return [
            WebSocketRoute(LIVE, self._live),
            Route(OVERVIEW, self._page("courts.html")),
            Mount(f"{OVERVIEW}/files", StaticFiles(directory=STATIC)),
            Route(f"{OVERVIEW}/{{host}}", self._page("court.html")),
            *shared,
        ]

    def _page(self, name: str) -> Callable[[Request], Awaitable[Response]]:
        async def page(request: Request) -> Response:
            if await anyio.to_thread.run_sync(self._club.who, request) is None:
                return RedirectResponse("/", 303)  # there somebody signs in
            tongue = tongue_of(request, self._tongues)
            return HTMLResponse(page_in(name, tongue, self._tongues, STATIC))

        return page

    async def _live(self, socket: WebSocket) -> None:
        try:
            person = await person_of(socket, self._club.who, may_look, "look")
        except RefusedError:
            await socket.close(POLICY_VIOLATION)
            return
        except FeedscriptError:
            await socket.close(TRY_AGAIN_LATER)
            return
        await socket.accept()
        async with anyio.create_task_group() as group:
            group.start_soon(_until_it_goes, socket, group.cancel_scope)
            group.start_soon(self._while_allowed, socket, group.cancel_scope)
            page = _Page(socket, self._board, person, tongue_of(socket, self._tongues))
            await page.tell()
            group.cancel_scope.cancel()

    async def _while_allowed(self, socket: WebSocket, scope: anyio.CancelScope) -> None:
        """Whoever has been signed out meanwhile sees no more."""
        allowed = True
        while allowed:
            await anyio.sleep(STILL_MAY_S)
            person = await anyio.to_thread.run_sync(self._club.who, socket)
            allowed = person is not None and may_look(person)
        await socket.close(POLICY_VIOLATION)
        scope.cancel()


def _file(name: str) -> Callable[[Request], Response]:
    return lambda _request: FileResponse(LESSON_STATIC / name)


async def _until_it_goes(socket: WebSocket, scope: anyio.CancelScope) -> None:
    """A page says nothing here; whatever comes, it is not read."""
    while (await socket.receive())["type"] == "websocket.receive":
        pass
    scope.cancel()


class _Page:
    """One page's socket: what has changed, and a sign of life when nothing has."""

    def __init__(self, socket: WebSocket, board: Board, person: Person, tongue: Tongue) -> None:
        self._socket = socket
        self._board = board
        self._tongue = tongue
        self._names = sees_names(person)
        self._stops = may_stop(person)
        self._only = socket.query_params.get("court")
        self._seen: dict[str, int] = {}

    async def tell(self) -> None:
        try:
            await self._say({"may_stop": self._stops, "names": self._names})
            while True:
                changed = self._board.changed
                await self._say(self._news())
                with anyio.move_on_after(STILL_S):
                    await changed.wait()
                await anyio.sleep(TOGETHER_S)
        except (WebSocketDisconnect, RuntimeError, OSError):
            pass  # starlette raises RuntimeError for a send after the close

    def _news(self) -> dict[str, object]:
        cards = []
        for revision, card in self._board.newer(self._seen):
            self._seen[card.host] = revision
            if self._only in (None, card.host):
                cards.append(card if self._names else without_names(card))
        hosts = [host for host in self._board.hosts if self._only in (None, host)]
        return {"hosts": hosts, "courts": cards}

    async def _say(self, message: dict[str, object]) -> None:
        plain = msgspec.to_builtins(message, enc_hook=self._tongue)
        await self._socket.send_text(msgspec.json.encode(all_visible(plain)).decode())
