"""What the page asks about the hour: its line, its steps in another order, other lengths."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

import msgspec

from feedscript.desk.hour.line import hour_line
from feedscript.desk.offsets import BrowserOffsets
from feedscript.editor.fixes import Change
from feedscript.editor.lengths import stretched
from feedscript.editor.order import reordered
from feedscript.editor.server import FeedscriptServer


class Reorder(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """A step of the lesson shall stand where another one does; both by number."""

    step: int
    to: int


class Stretch(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """A length of a step shall be another, in its own unit; ``number``: which of its lengths."""

    step: int
    number: int
    to: float


def _line(server: FeedscriptServer, uri: str, _asked: object) -> object:
    _, document = server.current(uri)
    return hour_line(document)


def _reorder(server: FeedscriptServer, uri: str, asked: object) -> object:
    wanted = msgspec.convert(asked, Reorder)
    document, scope, _ = server.names(uri)
    found = reordered(scope, wanted.step, wanted.to)
    units = BrowserOffsets(document.source)
    edits = [] if found.change is None else [_edit(units, found.change)]
    choices = [{"title": "change it", "edits": edits}] if edits else []
    return {"choices": choices, "refused": found.refused}


def _stretch(server: FeedscriptServer, uri: str, asked: object) -> object:
    wanted = msgspec.convert(asked, Stretch)
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


#: Who answers, by what is asked. Raises msgspec.ValidationError for what no page of ours asks.
ANSWERS: Mapping[str, Callable[[FeedscriptServer, str, object], object]] = {
    "feedscript/hour": _line,
    "feedscript/reorder": _reorder,
    "feedscript/stretch": _stretch,
}
