"""What the page asks about the hour: its line, its steps in another order, other lengths."""

from __future__ import annotations

import asyncio
import json
from typing import Any

import msgspec

from feedscript.desk.asks import CHANGED, INVALID_PARAMS
from feedscript.desk.hour.line import hour_line
from feedscript.desk.offsets import BrowserOffsets
from feedscript.editor.fixes import Change
from feedscript.editor.lengths import stretched
from feedscript.editor.order import reordered
from feedscript.editor.server import FeedscriptServer
from feedscript.memo import GivenUpError
from feedscript.tongues.tongue import Tongue

LINE = "feedscript/hour"
REORDER = "feedscript/reorder"
STRETCH = "feedscript/stretch"
ASKED = (LINE, REORDER, STRETCH)


class Reorder(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """A step of the lesson shall stand where another one does; both by number."""

    step: int
    to: int


class Stretch(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """A length of a step shall be another, in its own unit; ``number``: which of its lengths."""

    step: int
    number: int
    to: float


async def answered(
    server: FeedscriptServer, uri: str, asked: dict[str, Any], tongue: Tongue
) -> str:
    """The answer to one of ``ASKED``; that to a strange question says what is strange."""
    answer: dict[str, Any] = {"jsonrpc": "2.0", "id": asked.get("id")}
    try:
        found = await _found(server, uri, asked["method"], asked["params"]["wanted"])
    except (msgspec.ValidationError, KeyError, TypeError) as wrong:
        return json.dumps(answer | {"error": {"code": INVALID_PARAMS, "message": str(wrong)}})
    except GivenUpError:
        return json.dumps(answer | {"error": CHANGED})
    return msgspec.json.encode(answer | {"result": found}, enc_hook=tongue).decode()


async def _found(server: FeedscriptServer, uri: str, method: str, wanted: object) -> Any:
    if method == REORDER:
        return _reorder(server, uri, msgspec.convert(wanted, Reorder))
    if method == STRETCH:
        return _stretch(server, uri, msgspec.convert(wanted, Stretch))
    document = await server.settled(uri)
    # Beside the loop: a long lesson is run through for it, and the next key must not wait for that.
    return await asyncio.to_thread(hour_line, document)


def _reorder(server: FeedscriptServer, uri: str, wanted: Reorder) -> dict[str, Any]:
    document, scope, _ = server.names(uri)
    found = reordered(scope, wanted.step, wanted.to)
    units = BrowserOffsets(document.source)
    edits = [] if found.change is None else [_edit(units, found.change)]
    choices = [{"title": "change it", "edits": edits}] if edits else []
    return {"choices": choices, "refused": found.refused}


def _stretch(server: FeedscriptServer, uri: str, wanted: Stretch) -> dict[str, Any]:
    document, scope, _ = server.names(uri)
    found = stretched(scope, wanted.step, wanted.number, wanted.to)
    units = BrowserOffsets(document.source)
    choices = [
        {"title": one.title, "edits": [_edit(units, change) for change in one.changes]}
        for one in found.choices
    ]
    return {"choices": choices, "refused": found.refused}


def _edit(units: BrowserOffsets, change: Change) -> dict[str, Any]:
    return {"start": units(change.start), "end": units(change.end), "words": change.words}
