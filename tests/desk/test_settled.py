"""What a page asks beside the check waits for it, and gives way to the next one."""

from __future__ import annotations

import asyncio
import json
import threading
from collections.abc import Callable
from pathlib import Path
from typing import Any

import msgspec
import pytest
from lsprotocol import types as lsp
from pygls.workspace import Workspace

from feedscript.check import check_program
from feedscript.desk import asks
from feedscript.desk.hour import asked as of_hour
from feedscript.desk.hour import line
from feedscript.desk.offsets import BrowserOffsets
from feedscript.desk.open_text import OpenText
from feedscript.desk.seen import seen
from feedscript.desk.under_way import tries
from feedscript.desk.under_way.ghosts import ghosts
from feedscript.desk.under_way.reach import reach
from feedscript.desk.words_socket import DeskServer
from feedscript.editor import server as editor_server
from feedscript.editor.document import Document, open_document
from feedscript.editor.server import FeedscriptServer, new_server
from feedscript.flight.motion import integrator, tracks
from feedscript.memo import Memo
from feedscript.tongues.text import plain
from feedscript.tongues.tongue import IN_ENGLISH
from tests.benchmarks.check import forty, hour

pytestmark = pytest.mark.asyncio

URI = "file:///nowhere/asked.feed"
TEXT = forty(2)


class Counted(DeskServer):
    """A server that notes what it checks, and tells nobody."""

    opened: list[str]

    def _open(self, uri: str, text: str) -> Document:
        self.opened.append(text)
        return super()._open(uri, text)

    def _tell(self, uri: str, document: object, checked: Document, more: bytes) -> None:
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


@pytest.mark.parametrize("part", ["_forms", "refused"])
async def test_sliders_of_words_that_are_no_more_are_given_up(
    monkeypatch: pytest.MonkeyPatch, part: str
) -> None:
    desk = server()
    typed(desk, TEXT)
    document = await desk.settled(URI)
    name = document.verdict.draft.feeds[0].name if document.verdict.draft else ""
    begun: list[object] = []
    measured = getattr(tries, part)

    def interrupted(*given: object) -> object:
        begun.append(given)
        desk.workspace.put_text_document(lsp.TextDocumentItem(URI, "feedscript", 2, TEXT + "\n"))
        return measured(*given)

    monkeypatch.setattr(tries, part, interrupted)
    asked = {"id": 1, "method": asks.REACH, "params": {"name": name}}
    told = json.loads(await asks.answered(desk, URI, asked, IN_ENGLISH))
    assert told["error"]["code"] == asks.CONTENT_MODIFIED
    assert len(begun) == 1


@pytest.mark.parametrize("asked", ["check", "reach", "ghosts"])
async def test_after_every_batch_of_flights_is_looked_whether_they_are_wanted_still(
    monkeypatch: pytest.MonkeyPatch, asked: str
) -> None:
    """What nobody waits for any more stands in the way of the next key no longer than that. A way
    is two batches: how long the balls fly, and then where."""
    flown, between = 0, list[int]()

    def counted(work: Callable[..., Any]) -> Callable[..., Any]:
        def counts(*given: Any) -> Any:
            nonlocal flown
            flown += 1
            return work(*given)

        return counts

    def stands() -> bool:
        nonlocal flown
        between.append(flown)
        flown = 0
        return True

    integration = integrator.Integration
    monkeypatch.setattr(integration, "__init__", counted(integration.__init__))
    monkeypatch.setattr(tracks, "_flown", counted(tracks._flown))
    memo = Memo().as_long_as(stands)
    document = open_document(Path("asked.feed"), hour(8), memo=memo)
    if asked != "check":
        between.clear()
    if asked == "reach":
        text = OpenText(document.scope.source, BrowserOffsets(document.text))
        assert reach(document, text, "f0").figures
    if asked == "ghosts":
        assert ghosts(document, 0) is not None
    stands()
    assert sum(between) > 5
    assert max(between) <= 2


async def test_the_hour_of_words_that_are_no_more_is_given_up(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    desk = server()
    typed(desk, TEXT)
    begun = list[str]()
    rows = line._rows

    def changed(*given: Any) -> Any:
        begun.append("rows")
        desk.workspace.put_text_document(lsp.TextDocumentItem(URI, "feedscript", 2, TEXT + "#"))
        return rows(*given)

    monkeypatch.setattr(line, "_rows", changed)
    asked = {"id": 1, "method": of_hour.LINE, "params": {"wanted": None}}
    told = json.loads(await of_hour.answered(desk, URI, asked, IN_ENGLISH))
    assert told["error"]["code"] == asks.CONTENT_MODIFIED
    assert begun == ["rows"]


async def test_a_check_of_words_that_are_no_more_is_given_up(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    desk, begun = server(), list[str]()
    compiled = check_program.compile_program

    def interrupted(*given: object, **more: object) -> object:
        begun.append("compiled")
        if len(begun) == 1:
            desk.workspace.put_text_document(lsp.TextDocumentItem(URI, "feedscript", 2, TEXT + "#"))
        return compiled(*given, **more)

    monkeypatch.setattr(check_program, "compile_program", interrupted)
    monkeypatch.setattr(check_program, "certify", lambda *_, **__: begun.append("judged"))
    typed(desk, TEXT)
    await asyncio.wait({*desk._waiting.values()})
    assert begun == ["compiled"]
    assert URI not in desk.checked
    monkeypatch.undo()
    assert (await desk.settled(URI)).text == TEXT + "#"


async def test_a_fix_is_looked_for_beside_the_loop_and_given_up_with_its_words(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    desk, looked = server(), list[str]()
    text = TEXT.replace("send", "sent", 1)
    typed(desk, text)
    await desk.settled(URI)

    def interrupted(document: Document, _: object) -> tuple[()]:
        looked.append(threading.current_thread().name)
        desk.workspace.put_text_document(lsp.TextDocumentItem(URI, "feedscript", 2, TEXT))
        document.judged(text + "#")
        looked.append("it went on")
        return ()

    monkeypatch.setattr(editor_server, "fixes", interrupted)
    whole = lsp.Range(lsp.Position(0, 0), lsp.Position(999, 0))
    asked = lsp.CodeActionParams(
        lsp.TextDocumentIdentifier(URI), whole, lsp.CodeActionContext(diagnostics=[])
    )
    assert await editor_server.code_actions(desk, asked) == []
    assert len(looked) == 1
    assert looked != [threading.main_thread().name]


async def test_a_page_is_told_only_the_feeds_that_are_others_and_where_all_of_them_stand() -> None:
    desk, written = new_server(DeskServer, 0.0), list[bytes]()
    assert isinstance(desk, DeskServer)
    desk.protocol._workspace = Workspace(None, lsp.TextDocumentSyncKind.Incremental)
    desk.outgoing = type("Outgoing", (), {"write": lambda _, told: written.append(told)})()
    texts = [TEXT, "# a line more\n" + TEXT, TEXT.replace("speed 8", "speed 8.", 1), "feed", TEXT]
    shown: list[dict[str, object]] = []
    news = []
    for text in texts:
        checked = open_document(Path("asked.feed"), text, memo=desk.memo)
        desk.tell_more(1, desk.more_of(URI, checked))
        told = json.loads(written.pop())["params"]
        whole = told["seen"] | {
            "feeds": [
                (shown[one] if isinstance(one, int) else one) | {"words": words, "land_words": land}
                for one, (words, land) in zip(told["feeds"], told["places"], strict=True)
            ]
        }
        assert whole == json.loads(msgspec.json.encode(seen(checked), enc_hook=plain))
        shown = whole["feeds"] or shown
        news.append(sum(not isinstance(one, int) for one in told["feeds"]))
    assert news == [2, 0, 1, 0, 1]


async def test_who_asks_of_words_that_nobody_checks_has_them_checked() -> None:
    desk = server()
    desk.workspace.put_text_document(lsp.TextDocumentItem(URI, "feedscript", 1, TEXT))
    assert (await desk.settled(URI)).text == TEXT
    assert desk.opened == [TEXT]
