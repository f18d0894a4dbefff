"""What a page asks of the words for its picture: to have a thing elsewhere, a figure another, and
what a feed's sliders show, or its flight elsewhere. Places are counted as a browser counts."""

from __future__ import annotations

import asyncio
import json
from collections.abc import Callable
from typing import Any, TypeAlias

import msgspec

from feedscript.desk.offsets import BrowserOffsets
from feedscript.desk.open_text import OpenText
from feedscript.desk.under_way.ghosts import ghosts
from feedscript.desk.under_way.reach import reach
from feedscript.editor.document import Document
from feedscript.editor.figures import FigureWanted, figured
from feedscript.editor.moves import moved
from feedscript.editor.server import FeedscriptServer
from feedscript.editor.wanted import Moved, Wanted
from feedscript.memo import GivenUpError
from feedscript.tongues.tongue import Tongue

MOVE = "feedscript/move"
FIGURE = "feedscript/figure"
REACH = "feedscript/reach"
#: A landing may be about to be moved: how would the ball fly elsewhere?
FLIGHT = "feedscript/flight"
ASKED = (MOVE, FIGURE, REACH, FLIGHT)
#: JSON-RPC 2.0, section 5.1.
INVALID_PARAMS = -32602
#: Language Server Protocol 3.17, `ContentModified`: what was asked is of words that are no more.
CONTENT_MODIFIED = -32801
CHANGED = {"code": CONTENT_MODIFIED, "message": "the words are others now"}


async def answered(
    server: FeedscriptServer, uri: str, asked: dict[str, Any], tongue: Tongue
) -> str:
    """The answer to one of ``ASKED`` in a language; that to a strange question says what is."""
    answer: dict[str, Any] = {"jsonrpc": "2.0", "id": asked.get("id")}
    try:
        question = _question(asked)
    except (msgspec.ValidationError, KeyError, TypeError) as wrong:
        return json.dumps(answer | {"error": {"code": INVALID_PARAMS, "message": str(wrong)}})
    document = await server.settled(uri)
    try:
        # Beside the loop: balls are flown for it, and the next key must not wait for them.
        result = await asyncio.to_thread(question, document)
    except GivenUpError:
        return json.dumps(answer | {"error": CHANGED})
    return msgspec.json.encode(answer | {"result": result}, enc_hook=tongue).decode()


#: What is asked of a program that has been checked; given up when its words are others.
_Question: TypeAlias = Callable[[Document], Any]


def _question(asked: dict[str, Any]) -> _Question:
    params = asked["params"]
    if asked["method"] == MOVE:
        wanted = msgspec.convert(params["wanted"], Wanted)
        return lambda document: _choices(document, moved(document, wanted))
    if asked["method"] == FIGURE:
        figure = msgspec.convert(params["wanted"], FigureWanted)
        return lambda document: _choices(document, figured(document, figure))
    if asked["method"] == FLIGHT:
        feed = msgspec.convert(params["feed"], int)
        return lambda document: ghosts(document, feed)
    name = msgspec.convert(params["name"], str)
    return lambda document: _reach(document, name)


def _reach(document: Document, name: str) -> Any:
    text = OpenText(document.scope.source, BrowserOffsets(document.text))
    return reach(document, text, name)


def _choices(document: Document, found: Moved) -> dict[str, Any]:
    """The ways there are."""
    units = BrowserOffsets(document.text)
    choices = [
        {
            "title": choice.title,
            "edits": [
                {"start": units(one.start), "end": units(one.end), "words": one.words}
                for one in choice.changes
            ],
        }
        for choice in found.choices
    ]
    return {"choices": choices, "refused": found.refused, "asks": found.asks}
