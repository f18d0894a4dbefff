"""What a page asks beside the check waits for it, and gives way to the next one."""

from __future__ import annotations

import asyncio
import json
from pathlib import Path

import pytest
from lsprotocol import types as lsp
from pygls.workspace import Workspace

from feedscript.desk import asks
from feedscript.desk.hour import asked as of_hour
from feedscript.desk.under_way import reach
from feedscript.desk.words_socket import DeskServer
from feedscript.editor.document import Document, open_document
from feedscript.editor.server import FeedscriptServer, new_server
from feedscript.tongues.tongue import IN_ENGLISH
from tests.benchmarks.check import forty

pytestmark = pytest.mark.asyncio

URI = "file:///nowhere/asked.feed"
TEXT = forty(2)


class Counted(DeskServer):
    """A server that notes what it checks, and tells nobody."""

    opened: list[str]

    def _open(self, uri: str, text: str) -> Document:
        self.opened.append(text)
        return open_document(Path("asked.feed"), text, memo=self.memo)

    def _tell(self, uri: str, document: object, checked: Document) -> None:
        self.checked[uri] = checked


def server() -> Counted:
    made = new_server(Counted, 0.0)
    assert isinstance(made, Counted)
    made.opened = []
    made.protocol._workspace = Workspace(None, lsp.TextDocumentSyncKind.Incremental)
    return made


def typed(one: FeedscriptServer, text: str) -> None:
    one.workspace.put_text_document(lsp.TextDocumentItem(URI, "feedscript", 1, text))
    one.later(URI)


@pytest.mark.parametrize("method", [asks.REACH, asks.FLIGHT, of_hour.LINE])
async def test_words_are_checked_once_whatever_is_asked_meanwhile(method: str) -> None:
    desk = server()
    typed(desk, TEXT)
    params = {"name": "f0", "feed": 0, "wanted": None}
    answer = of_hour.answered if method == of_hour.LINE else asks.answered
    asked = [{"id": id_, "method": method, "params": params} for id_ in range(3)]
    told = await asyncio.gather(*(answer(desk, URI, one, IN_ENGLISH) for one in asked))
    assert all("result" in json.loads(one) for one in told)
    assert desk.opened == [TEXT]


@pytest.mark.parametrize("part", ["_figure", "gaps_of"])
async def test_sliders_of_words_that_are_no_more_are_given_up(
    monkeypatch: pytest.MonkeyPatch, part: str
) -> None:
    desk = server()
    typed(desk, TEXT)
    document = await desk.settled(URI)
    name = document.verdict.draft.feeds[0].name if document.verdict.draft else ""
    tries: list[object] = []
    measured = getattr(reach, part)

    def interrupted(*given: object) -> object:
        tries.append(given)
        desk.workspace.put_text_document(lsp.TextDocumentItem(URI, "feedscript", 2, TEXT + "\n"))
        return measured(*given)

    monkeypatch.setattr(reach, part, interrupted)
    asked = {"id": 1, "method": asks.REACH, "params": {"name": name}}
    told = json.loads(await asks.answered(desk, URI, asked, IN_ENGLISH))
    assert told["error"]["code"] == asks.CONTENT_MODIFIED
    assert len(tries) == 1


async def test_who_asks_of_words_that_nobody_checks_has_them_checked() -> None:
    desk = server()
    desk.workspace.put_text_document(lsp.TextDocumentItem(URI, "feedscript", 1, TEXT))
    assert (await desk.settled(URI)).text == TEXT
    assert desk.opened == [TEXT]
