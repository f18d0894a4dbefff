"""A real editor's side of the protocol: a client, and the server as a process of its own."""

from __future__ import annotations

import asyncio
import sys
from collections.abc import AsyncIterator, Callable, Coroutine
from contextlib import asynccontextmanager
from pathlib import Path
from typing import Any

from lsprotocol import types as lsp
from pytest_lsp import ClientServerConfig, LanguageClient

COMMAND = [sys.executable, "-c", "from feedscript.cli import main; main()", "language-server"]


class Editor:
    """One open file in an editor."""

    def __init__(self, client: LanguageClient, path: Path, text: str) -> None:
        self.client, self.path, self.text = client, path, text
        self.uri = path.as_uri()
        self.version = 1
        self.identifier = lsp.TextDocumentIdentifier(self.uri)

    def position(self, marked: str, at: int = 0) -> lsp.Position:
        """The place of ``marked`` in the text, ``at`` characters in."""
        offset = self.text.index(marked) + at
        line = self.text.count("\n", 0, offset)
        column = offset - (self.text.rfind("\n", 0, offset) + 1)
        before = self.text[offset - column : offset]
        return lsp.Position(line, len(before.encode("utf-16-le")) // 2)

    async def diagnostics(self) -> list[lsp.Diagnostic]:
        """What the server says of the newest version."""
        for _ in range(400):
            found = self.client.diagnostics.get(self.uri)
            if found is not None and self.seen == self.version:
                return list(found)
            await asyncio.sleep(0.025)
        raise AssertionError("no diagnostics came")

    @property
    def seen(self) -> int:
        return getattr(self.client, "seen_version", 0)

    def type(self, text: str) -> None:
        """Replace the whole text, as typing does in the end."""
        self.text, self.version = text, self.version + 1
        self.client.text_document_did_change(
            lsp.DidChangeTextDocumentParams(
                lsp.VersionedTextDocumentIdentifier(self.version, self.uri),
                [lsp.TextDocumentContentChangeWholeDocument(text)],
            )
        )


@asynccontextmanager
async def editor(path: Path, text: str) -> AsyncIterator[Editor]:
    """A server process with one file open in it."""
    path.write_text(text, encoding="utf-8")
    client = await ClientServerConfig(server_command=COMMAND).start()
    assert isinstance(client, LanguageClient)
    published = client.protocol.fm.features[lsp.TEXT_DOCUMENT_PUBLISH_DIAGNOSTICS]

    def note(params: lsp.PublishDiagnosticsParams) -> None:
        published(params)
        client.seen_version = params.version or 0

    client.protocol.fm.features[lsp.TEXT_DOCUMENT_PUBLISH_DIAGNOSTICS] = note
    try:
        capabilities = lsp.ClientCapabilities()
        await client.initialize_session(lsp.InitializeParams(capabilities=capabilities))
        opened = Editor(client, path, text)
        item = lsp.TextDocumentItem(opened.uri, "feedscript", 1, text)
        client.text_document_did_open(lsp.DidOpenTextDocumentParams(item))
        yield opened
    finally:
        await asyncio.wait_for(client.shutdown_session(), 20)
        await client.stop()


def with_editor(path: Path, text: str, act: Callable[[Editor], Coroutine[Any, Any, None]]) -> None:
    """Run one act in an editor of its own."""

    async def run() -> None:
        async with editor(path, text) as opened:
            await act(opened)

    asyncio.run(run())
