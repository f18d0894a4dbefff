"""The language's own server behind one open program of the page, over its socket.

The page's editor speaks the Language Server Protocol, one message in each frame. After every check
it is told more than an editor is: ``feedscript/seen``, what there is to see of the program.
"""

from __future__ import annotations

import asyncio
import json
from pathlib import Path
from typing import Any

import msgspec
from starlette.websockets import WebSocket, WebSocketDisconnect

from feedscript.desk.seen import seen
from feedscript.editor.document import Document
from feedscript.editor.server import FeedscriptServer, new_server
from feedscript.override import override

#: A page that sends what no editor sends is let go (RFC 6455, 7.4.1: policy violation).
POLICY_VIOLATION = 1008
#: How long typing must pause before the check. Design value: two keys of a fast typist.
PAUSE_S = 0.03


class DeskServer(FeedscriptServer):
    """The language server that also says what there is to see."""

    @override
    def tell_more(self, uri: str, checked: Document, version: int | None) -> None:
        told = {"uri": uri, "version": version, "seen": msgspec.to_builtins(seen(checked))}
        self.protocol.notify("feedscript/seen", told)


class _Outgoing:
    """What the server writes, on its way to the socket in order."""

    def __init__(self) -> None:
        self.queue: asyncio.Queue[str] = asyncio.Queue()

    def write(self, data: bytes | str) -> None:
        self.queue.put_nowait(data if isinstance(data, str) else data.decode())

    def close(self) -> None:
        """The socket is closed by who opened it."""


async def serve_words(socket: WebSocket, path: Path) -> None:
    """Answer for the one program at ``path`` until the page leaves."""
    server = new_server(DeskServer, PAUSE_S)
    outgoing = _Outgoing()
    server.protocol.set_writer(outgoing, include_headers=False)
    sends = asyncio.create_task(_send(socket, outgoing))
    uri = path.resolve().as_uri()
    try:
        while True:
            raw = await socket.receive_text()
            message = _understood(server, raw, uri)
            if message is None:
                await socket.close(POLICY_VIOLATION)
                return
            server.protocol.handle_message(message)
    except WebSocketDisconnect:
        return
    finally:
        sends.cancel()
        server.forget(uri)


async def _send(socket: WebSocket, outgoing: _Outgoing) -> None:
    while True:
        await socket.send_text(await outgoing.queue.get())


def _understood(server: DeskServer | FeedscriptServer, raw: str, uri: str) -> Any | None:
    """The message; None for one that no page of ours sends, above all about another file."""
    try:
        plain = json.loads(raw)
    except (ValueError, RecursionError):
        return None
    if not isinstance(plain, dict) or _named(plain) not in (None, uri):
        return None
    try:
        return json.loads(raw, object_hook=server.protocol.structure_message)
    except Exception:  # noqa: BLE001 (whatever the library says of strange shapes)
        return None


def _named(message: dict[str, Any]) -> str | None:
    """The document that a message is about."""
    params = message.get("params")
    document = params.get("textDocument") if isinstance(params, dict) else None
    found = document.get("uri") if isinstance(document, dict) else None
    return found if found is None or isinstance(found, str) else ""
