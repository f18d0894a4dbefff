"""The language's own server behind one open program of the page, over its socket.

The page's editor speaks the Language Server Protocol, one message in each frame. After every check
it is told more than an editor is: ``feedscript/seen``, what there is to see of the program.
"""

from __future__ import annotations

import asyncio
import json
from itertools import islice, zip_longest
from pathlib import Path
from typing import Any

import msgspec
from starlette.websockets import WebSocket, WebSocketDisconnect

from feedscript.desk import asks as of_picture
from feedscript.desk.hour import asked as of_hour
from feedscript.desk.open_text import Words
from feedscript.desk.seen import Seen, SeenFeed, seen
from feedscript.editor.document import Document
from feedscript.editor.server import FeedscriptServer, new_server
from feedscript.override import override
from feedscript.tongues.tongue import IN_ENGLISH, Tongue

#: A page that sends what no editor sends is let go (RFC 6455, 7.4.1: policy violation).
POLICY_VIOLATION = 1008
#: The newest words are checked as soon as the check before has ended: nothing is waited for.
PAUSE_S = 0.0
#: Who answers what a page asks beyond what an editor does.
_ANSWERS = {
    **dict.fromkeys(of_picture.ASKED, of_picture.answered),
    **dict.fromkeys(of_hour.ASKED, of_hour.answered),
}


class DeskServer(FeedscriptServer):
    """The language server that also says what there is to see, in the language of the page."""

    outgoing: _Outgoing | None = None
    tongue: Tongue = IN_ENGLISH
    _shown: tuple[bytes, ...] = ()  # the feeds of the picture that the page has
    _made: _Picture | None = None  # the last picture, told or not

    @override
    def more_of(self, uri: str, checked: Document) -> _Picture:
        self._made = _picture(seen(checked), self.tongue, self._made)
        return self._made

    @override
    def tell_more(self, version: int | None, more: _Picture) -> None:
        known = {feed: number for number, feed in enumerate(self._shown)}
        told = {
            "version": version,
            "seen": msgspec.Raw(more.besides),
            "feeds": [known.get(feed, msgspec.Raw(feed)) for feed in more.feeds],
            "places": more.places,
        }
        if more.drawn:
            self._shown = more.feeds
        message = {"jsonrpc": "2.0", "method": "feedscript/seen", "params": told}
        assert self.outgoing is not None
        self.outgoing.write(msgspec.json.encode(message))


class _Picture(msgspec.Struct, frozen=True):
    """What there is to see, on its way to a page that mostly has all feeds but one already: the
    page is told their numbers in the picture before, and where their words stand now."""

    besides: bytes
    bare: tuple[SeenFeed, ...]
    feeds: tuple[bytes, ...]
    places: tuple[tuple[Words | None, Words | None], ...]
    drawn: bool


def _picture(whole: Seen, tongue: Tongue, before: _Picture | None) -> _Picture:
    """The picture; what is as it was in the one ``before`` is not written down again."""
    beside = msgspec.structs.replace(whole, feeds=())
    bare = tuple(msgspec.structs.replace(one, words=None, land_words=None) for one in whole.feeds)
    known = () if before is None else zip(before.bare, before.feeds, strict=True)
    return _Picture(
        msgspec.json.encode(beside, enc_hook=tongue),
        bare,
        tuple(
            was[1]
            if was is not None and was[0] == one
            else msgspec.json.encode(one, enc_hook=tongue)
            for one, was in zip_longest(bare, islice(known, len(bare)))
        ),
        tuple((one.words, one.land_words) for one in whole.feeds),
        whole.court is not None,
    )


class _Outgoing:
    """What the server writes, on its way to the socket in order."""

    def __init__(self) -> None:
        self.queue: asyncio.Queue[str] = asyncio.Queue()

    def write(self, data: bytes | str) -> None:
        self.queue.put_nowait(data if isinstance(data, str) else data.decode())

    def close(self) -> None:
        """The socket is closed by who opened it."""


async def serve_words(socket: WebSocket, path: Path, tongue: Tongue = IN_ENGLISH) -> None:
    """Answer for the one program at ``path`` until the page leaves, in the page's language."""
    server = new_server(DeskServer, PAUSE_S)
    assert isinstance(server, DeskServer)
    outgoing, server.tongue = _Outgoing(), tongue
    server.outgoing = outgoing
    server.protocol.set_writer(outgoing, include_headers=False)
    sends = asyncio.create_task(_send(socket, outgoing))
    uri = path.resolve().as_uri()
    asks: set[asyncio.Task[None]] = set()
    try:
        while True:
            raw = await socket.receive_text()
            plain = _plain(raw, uri)
            message = None if plain is None else _understood(server, raw)
            if plain is None or message is None:
                await socket.close(POLICY_VIOLATION)
                return
            if plain.get("method") in _ANSWERS:
                asks.add(task := asyncio.create_task(_answer(server, uri, plain, outgoing)))
                task.add_done_callback(asks.discard)
            else:
                server.protocol.handle_message(message)
    except WebSocketDisconnect:
        return
    finally:
        for task in (sends, *asks):
            task.cancel()
        server.forget(uri)


async def _answer(server: DeskServer, uri: str, asked: dict[str, Any], outgoing: _Outgoing) -> None:
    outgoing.write(await _ANSWERS[asked["method"]](server, uri, asked, server.tongue))


async def _send(socket: WebSocket, outgoing: _Outgoing) -> None:
    while True:
        await socket.send_text(await outgoing.queue.get())


def _plain(raw: str, uri: str) -> dict[str, Any] | None:
    """The message; None for one that no page of ours sends, above all about another file."""
    try:
        plain = json.loads(raw)
    except (ValueError, RecursionError):
        return None
    return plain if isinstance(plain, dict) and _named(plain) in (None, uri) else None


def _understood(server: FeedscriptServer, raw: str) -> Any | None:
    """The message in the library's own shape; None where it has none."""
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
