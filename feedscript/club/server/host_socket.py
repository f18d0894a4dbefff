"""The socket of a court's computer: STOP goes down, signs of life and acknowledgements come up."""

from __future__ import annotations

import anyio
import msgspec
from anyio.streams.memory import MemoryObjectReceiveStream
from starlette.websockets import WebSocket, WebSocketDisconnect

from feedscript.club.answers import RefusedError, court_of
from feedscript.club.messages import (
    MOST_BYTES,
    UNHEARD_S,
    Alive,
    FromHost,
    Here,
    StopEnded,
    StopHeard,
    ToHost,
)
from feedscript.club.server.club import Club
from feedscript.diagnostics import FeedscriptError

POLICY_VIOLATION = 1008  # RFC 6455, 7.4.1
TRY_AGAIN_LATER = 1013  # IANA's registry of WebSocket close codes
_DECODER: msgspec.json.Decoder[FromHost] = msgspec.json.Decoder(FromHost)
#: A court that says nothing for so long has gone, or its network has, s.
SILENCE_S = 5 * UNHEARD_S


async def serve_host(socket: WebSocket, club: Club) -> None:
    """One court's socket, until either side ends it; refused before it opens without a key."""
    try:
        host = await court_of(socket, club.store)
    except RefusedError:
        await socket.close(POLICY_VIOLATION)
        return
    except FeedscriptError:
        await socket.close(TRY_AGAIN_LATER)
        return
    await socket.accept()
    with club.lines.open(host) as down:
        for stop in club.stopping.for_host(host):
            club.lines.say(host, stop)
        async with anyio.create_task_group() as group:
            group.start_soon(_send_down, socket, down, group.cancel_scope)
            await _take_up(socket, club, host)
            group.cancel_scope.cancel()


async def _send_down(
    socket: WebSocket, down: MemoryObjectReceiveStream[ToHost], scope: anyio.CancelScope
) -> None:
    try:
        async for message in down:
            await socket.send_text(msgspec.json.encode(message).decode())
    except (WebSocketDisconnect, RuntimeError, OSError):
        pass  # starlette raises RuntimeError for a send after the close
    scope.cancel()


async def _take_up(socket: WebSocket, club: Club, host: str) -> None:
    while True:
        with anyio.move_on_after(SILENCE_S) as silence:
            received = await socket.receive()
        if silence.cancelled_caught:
            await socket.close(TRY_AGAIN_LATER)
            return
        if received["type"] != "websocket.receive":
            return
        said = _read(received.get("text") or received.get("bytes") or b"")
        if said is None:
            await socket.close(POLICY_VIOLATION)
            return
        _take(club, host, said)


def _read(raw: str | bytes) -> FromHost | None:
    if len(raw) > MOST_BYTES:
        return None
    try:
        said: FromHost = _DECODER.decode(raw)
    except (msgspec.DecodeError, UnicodeError, RecursionError):
        return None
    return said


def _take(club: Club, host: str, said: FromHost) -> None:
    match said:
        case Alive():
            club.presence.heard(host, said)
            club.lines.say(host, Here())
        case StopHeard(order):
            club.stopping.heard(host, order)
        case StopEnded():
            club.stopping.ended(host, said)
