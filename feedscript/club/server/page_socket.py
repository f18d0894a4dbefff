"""The socket of a person's page: every court and STOP as it is now, then the news of them."""

from __future__ import annotations

from collections.abc import Awaitable, Callable

import anyio
import msgspec
from anyio.streams.memory import MemoryObjectReceiveStream
from starlette.websockets import WebSocket, WebSocketDisconnect

from feedscript.club.answers import RefusedError, person_of
from feedscript.club.messages import Happened, News, Still, ToPage
from feedscript.club.server.club import Club
from feedscript.club.server.host_socket import POLICY_VIOLATION, TRY_AGAIN_LATER
from feedscript.club.who import may_look
from feedscript.diagnostics import FeedscriptError

#: Something is said at least this often, s, so that a page knows soon that it is alone.
STILL_S = 1.0


async def serve_page(socket: WebSocket, club: Club) -> None:
    """One page's socket, until either side ends it; refused before it opens for a stranger."""
    try:
        await person_of(socket, club.who, may_look, "look")
    except RefusedError:
        await socket.close(POLICY_VIOLATION)
        return
    except FeedscriptError:
        await socket.close(TRY_AGAIN_LATER)
        return
    await socket.accept()
    with club.hub.news() as news:
        async with anyio.create_task_group() as group:
            group.start_soon(_until_it_goes, socket, group.cancel_scope)
            await _tell(socket, club, news)
            group.cancel_scope.cancel()


async def _until_it_goes(socket: WebSocket, scope: anyio.CancelScope) -> None:
    """A page says nothing here; whatever comes, it is not read."""
    while (await socket.receive())["type"] == "websocket.receive":
        pass
    scope.cancel()


async def _tell(socket: WebSocket, club: Club, news: MemoryObjectReceiveStream[News]) -> None:
    async def say(told: ToPage) -> None:
        await socket.send_text(msgspec.json.encode(told).decode())

    try:
        known: list[News] = [*club.presence.courts(), *club.stopping.told()]
        for told in known:
            await say(told)
        await _tell_news(say, news)
        await socket.close(TRY_AGAIN_LATER)  # it was too slow
    except (WebSocketDisconnect, RuntimeError, OSError):
        pass  # starlette raises RuntimeError for a send after the close


async def _tell_news(
    say: Callable[[ToPage], Awaitable[None]],
    news: MemoryObjectReceiveStream[News],
) -> None:
    while True:
        told: ToPage = Still()
        with anyio.move_on_after(STILL_S):
            try:
                told = shown(await news.receive())
            except anyio.EndOfStream:
                return
        await say(told)


def shown(news: News) -> News:
    """As much of it as every page may have: what happened in a lesson names children, so
    that only which event came is said here."""
    if not isinstance(news, Happened):
        return news
    events = tuple(msgspec.structs.replace(one, data="{}") for one in news.events)
    return msgspec.structs.replace(news, events=events)
