"""The language server: what an editor that speaks the Language Server Protocol asks for."""

from __future__ import annotations

import asyncio
import re
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path
from typing import Any, TypeVar
from urllib.parse import unquote, urlparse

from lsprotocol import types as lsp
from pygls.lsp.server import LanguageServer
from pygls.workspace import TextDocument

import feedscript
from feedscript.diagnostics import Diagnostic, Page, Severity, Span
from feedscript.editor.colouring import Colour, coloured
from feedscript.editor.completion import Kind, Offer, offers
from feedscript.editor.document import Document, names_in, open_document
from feedscript.editor.fixes import Fix, fixes
from feedscript.editor.hints import hints
from feedscript.editor.hover import hover_text
from feedscript.editor.names import Names, Target
from feedscript.editor.open_text import reopened
from feedscript.editor.outline import Part, folds, outline
from feedscript.editor.positions import Positions
from feedscript.editor.quoted import MARKS, PEOPLE, Quoted, quoted_in
from feedscript.language.parse import tree as t
from feedscript.language.parse.source import Source
from feedscript.language.parse.tables import tables
from feedscript.language.resolve.scope import Scope, kind_word
from feedscript.language.tools.formatter import format_text
from feedscript.language.words import is_place_word
from feedscript.memo import GivenUpError, Memo

#: How long the typing must pause before a program is checked.
PAUSE_S = 0.15

_SEVERITIES = {
    Severity.ERROR: lsp.DiagnosticSeverity.Error,
    Severity.WARNING: lsp.DiagnosticSeverity.Warning,
    Severity.NOTE: lsp.DiagnosticSeverity.Information,
}
_KINDS = {
    Kind.WORD: lsp.CompletionItemKind.Keyword,
    Kind.FEED: lsp.CompletionItemKind.Variable,
    Kind.PATTERN: lsp.CompletionItemKind.Function,
    Kind.VALUE: lsp.CompletionItemKind.Constant,
    Kind.UNIT: lsp.CompletionItemKind.Unit,
    Kind.PLACE: lsp.CompletionItemKind.Reference,
    Kind.CHOICE: lsp.CompletionItemKind.EnumMember,
    Kind.LAUNCHER: lsp.CompletionItemKind.Variable,
    Kind.QUOTED: lsp.CompletionItemKind.Constant,
}
_SYMBOLS: dict[type, lsp.SymbolKind] = {
    t.Feed: lsp.SymbolKind.Object,
    t.Progression: lsp.SymbolKind.Object,
    t.Pattern: lsp.SymbolKind.Function,
    t.Let: lsp.SymbolKind.Constant,
    t.Lesson: lsp.SymbolKind.Event,
    t.Season: lsp.SymbolKind.Event,
    t.Expect: lsp.SymbolKind.Property,
    t.Declaration: lsp.SymbolKind.Struct,
    t.Season: lsp.SymbolKind.Event,
    t.Week: lsp.SymbolKind.Method,
    t.ExerciseSyntax: lsp.SymbolKind.Method,
    t.StationSyntax: lsp.SymbolKind.Field,
}

NOT_RENAMED = Page(
    slug="not-renamed",
    title="A name that cannot be changed here",
    why="""An editor renames what the open file defines, to a name that the language allows. A name
of another file is renamed there.""",
)


class FeedscriptServer(LanguageServer):
    """The server and the programs that are open in it."""

    def __init__(self, pause_s: float = PAUSE_S) -> None:
        super().__init__("feedscript", feedscript.__version__)
        self._pause_s = pause_s
        self.checked: dict[str, Document] = {}
        self.library: Path | None = None  # the coach's own, where it is not the usual one
        self.memo = Memo()  # what its checks have worked out
        self._waiting: dict[str, asyncio.Task[None]] = {}
        self._checking = asyncio.Lock()

    def later(self, uri: str) -> None:
        """Check a program when its typing pauses; the check before it is dropped."""
        before = self._waiting.pop(uri, None)
        if before is not None:
            before.cancel()
        self._waiting[uri] = asyncio.get_running_loop().create_task(self._check(uri))

    async def _check(self, uri: str) -> None:
        await asyncio.sleep(self._pause_s)
        text = self.workspace.get_text_document(uri).source
        # A check that has begun goes on to its end, so that never two run beside each other.
        await asyncio.shield(self._check_now(uri, text))

    async def _check_now(self, uri: str, text: str) -> None:
        async with self._checking:
            if not self._stands(uri, text):
                return  # typed on meanwhile: the next check is already waiting
            try:
                checked, more = await asyncio.to_thread(self._worked_out, uri, text)
            except GivenUpError:
                return
        if self._stands(uri, text):
            self._tell(uri, self.workspace.get_text_document(uri), checked, more)

    def _worked_out(self, uri: str, text: str) -> tuple[Document, Any]:
        checked = self._open(uri, text)
        return checked, self.more_of(uri, checked)

    def _stands(self, uri: str, text: str) -> bool:
        """Whether a program is open still, and says this."""
        return uri in self._waiting and self.says(uri, text)

    def _tell(self, uri: str, document: TextDocument, checked: Document, more: Any) -> None:
        version = document.version
        self.checked[uri] = checked
        self.tell_more(version, more)
        found = [_as_lsp(self, document, checked, one) for one in checked.verdict.diagnostics]
        self.text_document_publish_diagnostics(
            lsp.PublishDiagnosticsParams(uri=uri, diagnostics=found, version=version)
        )

    def _open(self, uri: str, text: str) -> Document:
        """The program checked; given up when its words are others."""
        memo = self.memo.as_long_as(lambda: self.says(uri, text))
        return open_document(path_of(uri), text, self.library, memo)

    def more_of(self, uri: str, checked: Document) -> Any:  # noqa: ARG002
        """What a client is told that shows more of a program than an editor does: worked out
        beside the loop, with the check."""
        return None

    def tell_more(self, version: int | None, more: Any) -> None:
        """Tell it, of the words of this version."""

    def forget(self, uri: str) -> None:
        """A program was closed."""
        waiting = self._waiting.pop(uri, None)
        if waiting is not None:
            waiting.cancel()
        self.checked.pop(uri, None)
        self.text_document_publish_diagnostics(
            lsp.PublishDiagnosticsParams(uri=uri, diagnostics=[])
        )

    async def settled(self, uri: str) -> Document:
        """The program as it stands now, when its check has ended: it is not checked beside it."""
        while not self._is_checked(uri):
            waiting = self._waiting.get(uri)
            if waiting is None or waiting.done():
                await self._settle(uri, self.workspace.get_text_document(uri).source)
            else:
                await asyncio.wait({waiting})
        return self.checked[uri]

    async def _settle(self, uri: str, text: str) -> None:
        async with self._checking:
            if self._is_checked(uri):
                return
            with suppress(GivenUpError):
                self.checked[uri] = await asyncio.to_thread(self._open, uri, text)

    def snapshot(self, checked: Document, uri: str) -> TextDocument:
        """The words of a check, wherever those of the editor have come to."""
        version = self.workspace.get_text_document(uri).version
        codec = self.workspace.position_codec
        return TextDocument(uri, checked.text, version, position_codec=codec)

    def _is_checked(self, uri: str) -> bool:
        known = self.checked.get(uri)
        return known is not None and self.says(uri, known.text)

    def says(self, uri: str, text: str) -> bool:
        """Whether a program says this now."""
        return self.workspace.get_text_document(uri).source == text

    def names(self, uri: str) -> tuple[TextDocument, Scope, Names]:
        """The program's names as it stands now; nothing is aimed."""
        document = self.workspace.get_text_document(uri)
        scope, names = names_in(path_of(uri), document.source, self.library, self.memo)
        return document, scope, names


def path_of(uri: str) -> Path:
    """The file of a URI; for one that is no file, a name in no folder."""
    parsed = urlparse(uri)
    return Path(unquote(parsed.path)) if parsed.scheme == "file" else Path(uri)


def _range(document: TextDocument, start: int, end: int) -> lsp.Range:
    position = Positions(document)
    return lsp.Range(position(start), position(end))


def _as_lsp(
    server: FeedscriptServer, document: TextDocument, checked: Document, found: Diagnostic
) -> lsp.Diagnostic:
    source = checked.scope.source
    message = found.message + (f"\nfix: {found.help}" if found.help else "")
    span = found.span
    if span is None or span.source != source.name:
        # It lies in a file that this one uses: shown where that file is named.
        if span is not None:
            message = f"{Path(span.source).name}, line {span.line}: {message}"
        start, end = _where_used(checked, span)
    else:
        start = source.offset(span.line, span.column)
        end = source.offset(span.end_line, span.end_column)
    related = [
        lsp.DiagnosticRelatedInformation(_location(server, checked, one.span), one.message)
        for one in found.related
    ]
    return lsp.Diagnostic(
        range=_range(document, start, max(end, start)),
        message=message,
        severity=_SEVERITIES[found.severity],
        code=found.slug,
        source="feedscript",
        related_information=related,
    )


def _where_used(checked: Document, span: Span | None) -> tuple[int, int]:
    scope = checked.scope
    for use in scope.items(t.Use):
        name = str(use.name) if use.name is not None else Path(use.path.raw.strip('"')).stem
        used = scope.files.get(name)
        if span is not None and used is not None and used.source.name == span.source:
            return use.start, use.end
    return 0, len(scope.source.text.split("\n", 1)[0])


def _location(server: FeedscriptServer, checked: Document, span: Span) -> lsp.Location:
    text = checked.verdict.sources.get(span.source, checked.text)
    source = Source(span.source, text)
    start = source.offset(span.line, span.column)
    end = source.offset(span.end_line, span.end_column)
    uri = Path(span.source).resolve().as_uri()
    document = TextDocument(uri, text, position_codec=server.workspace.position_codec)
    return lsp.Location(uri, _range(document, start, end))


def _target_location(server: FeedscriptServer, scope: Scope, target: Target) -> lsp.Location | None:
    stack = [scope]
    while stack:
        home = stack.pop()
        if home.source.name == target.source:
            uri = Path(target.source).resolve().as_uri()
            codec = server.workspace.position_codec
            document = TextDocument(uri, home.source.text, position_codec=codec)
            return lsp.Location(uri, _range(document, target.start, target.end))
        stack.extend(home.files.values())
    return None


#: What an editor may ask: the method, its options, and who answers.
_ANSWERS: list[tuple[str, Any, Callable[..., Any]]] = []

F = TypeVar("F", bound=Callable[..., Any])


def _answers(method: str, options: Any = None) -> Callable[[F], F]:
    def noted(answer: F) -> F:
        _ANSWERS.append((method, options, answer))
        return answer

    return noted


def new_server(
    kind: type[FeedscriptServer] = FeedscriptServer, pause_s: float = PAUSE_S
) -> FeedscriptServer:
    """A server for one editor; it checks when typing has paused for ``pause_s``."""
    server = kind(pause_s)
    for method, options, answer in _ANSWERS:
        server.feature(method, options)(answer)
    return server


@_answers(lsp.TEXT_DOCUMENT_DID_OPEN)
def did_open(server: FeedscriptServer, params: lsp.DidOpenTextDocumentParams) -> None:
    # At once, before any change of it is read.
    reopened(server.workspace, params.text_document.uri)
    server.later(params.text_document.uri)


@_answers(lsp.TEXT_DOCUMENT_DID_CHANGE)
async def did_change(server: FeedscriptServer, params: lsp.DidChangeTextDocumentParams) -> None:
    server.later(params.text_document.uri)


@_answers(lsp.TEXT_DOCUMENT_DID_CLOSE)
async def did_close(server: FeedscriptServer, params: lsp.DidCloseTextDocumentParams) -> None:
    server.forget(params.text_document.uri)


@_answers(lsp.TEXT_DOCUMENT_HOVER)
async def hover(server: FeedscriptServer, params: lsp.HoverParams) -> lsp.Hover | None:
    checked = await server.settled(params.text_document.uri)
    document = server.snapshot(checked, params.text_document.uri)
    found = hover_text(checked, document.offset_at_position(params.position))
    if found is None:
        return None
    text, start, end = found
    content = lsp.MarkupContent(lsp.MarkupKind.Markdown, text)
    return lsp.Hover(content, _range(document, start, end))


@_answers(
    lsp.TEXT_DOCUMENT_COMPLETION, lsp.CompletionOptions(trigger_characters=[" ", ".", "(", '"'])
)
def completion(server: FeedscriptServer, params: lsp.CompletionParams) -> lsp.CompletionList:
    document, scope, _ = server.names(params.text_document.uri)
    offset = document.offset_at_position(params.position)
    items = [_item(document, offer, offset) for offer in offers(scope, document.source, offset)]
    return lsp.CompletionList(is_incomplete=False, items=items)


def _item(document: TextDocument, offer: Offer, offset: int) -> lsp.CompletionItem:
    """A name between quotation marks says what it takes the place of: it may have spaces in it."""
    item = lsp.CompletionItem(
        label=offer.label, kind=_KINDS[offer.kind], detail=offer.detail or offer.kind.value
    )
    if offer.start is not None:
        item.filter_text = offer.label
        item.text_edit = lsp.TextEdit(_range(document, offer.start, offset), offer.label)
    return item


@_answers(lsp.TEXT_DOCUMENT_DEFINITION)
def definition(server: FeedscriptServer, params: lsp.DefinitionParams) -> lsp.Location | None:
    document, scope, names = server.names(params.text_document.uri)
    found = names.at(document.offset_at_position(params.position))
    return None if found is None else _target_location(server, scope, found.target)


@_answers(lsp.TEXT_DOCUMENT_REFERENCES)
def references(server: FeedscriptServer, params: lsp.ReferenceParams) -> list[lsp.Location]:
    document, _, names = server.names(params.text_document.uri)
    found = names.at(document.offset_at_position(params.position))
    if found is None:
        return []
    uri = params.text_document.uri
    return [
        lsp.Location(uri, _range(document, one.start, one.end)) for one in names.same(found.target)
    ]


@_answers(lsp.TEXT_DOCUMENT_PREPARE_RENAME)
def prepare_rename(server: FeedscriptServer, params: lsp.PrepareRenameParams) -> lsp.Range | None:
    document, scope, names = server.names(params.text_document.uri)
    found = names.at(document.offset_at_position(params.position))
    if found is None or found.target.source != scope.source.name:
        return None
    return _range(document, found.start, found.end)


@_answers(lsp.TEXT_DOCUMENT_RENAME, lsp.RenameOptions(prepare_provider=True))
def rename(server: FeedscriptServer, params: lsp.RenameParams) -> lsp.WorkspaceEdit | None:
    document, scope, names = server.names(params.text_document.uri)
    found = names.at(document.offset_at_position(params.position))
    if found is None or found.target.source != scope.source.name:
        return None
    trouble = _unfit(params.new_name, scope, found.target.node)
    if trouble is not None:
        server.window_show_message(lsp.ShowMessageParams(lsp.MessageType.Error, trouble.message))
        return None
    edits: list[lsp.TextEdit | lsp.AnnotatedTextEdit | lsp.SnippetTextEdit] = [
        lsp.TextEdit(_range(document, one.start, one.end), params.new_name)
        for one in names.same(found.target)
    ]
    version = document.version
    change = lsp.TextDocumentEdit(
        lsp.OptionalVersionedTextDocumentIdentifier(uri=document.uri, version=version), edits
    )
    return lsp.WorkspaceEdit(document_changes=[change])


def _unfit(name: str, scope: Scope, node: Any) -> Diagnostic | None:
    """Why a name cannot be taken; None where it can."""
    if isinstance(node, Quoted):
        return _unfit_in_marks(name, scope, node)
    if not re.fullmatch(tables().patterns["NAME"][0], name, re.IGNORECASE) or is_place_word(name):
        return NOT_RENAMED.report(f"`{name}` cannot be a name", help="begin it with a letter")
    taken = scope.names.get(name)
    if taken is not None:
        message = f"`{name}` is already the name of a {kind_word(taken)}"
        return NOT_RENAMED.report(message, help="choose another")
    return None


def _unfit_in_marks(name: str, scope: Scope, node: Quoted) -> Diagnostic | None:
    if not name.strip() or set(name) & {*MARKS, "\\", "\n"}:
        return NOT_RENAMED.report(
            f"`{name}` cannot stand between quotation marks",
            help="write a name without quotation marks, on one line",
        )
    # Players and subgroups share their names: `for "…"` may mean either.
    alike = PEOPLE if node.sorts[0] in PEOPLE else node.sorts
    for one in quoted_in(scope):
        if one.defines and one.name == name and one.sorts[0] in alike:
            message = f'"{name}" is already the name of a {one.sorts[0].value}'
            return NOT_RENAMED.report(message, help="choose another")
    return None


@_answers(lsp.TEXT_DOCUMENT_FORMATTING)
def formatting(
    server: FeedscriptServer, params: lsp.DocumentFormattingParams
) -> list[lsp.TextEdit]:
    document = server.workspace.get_text_document(params.text_document.uri)
    text, _ = format_text(document.source, document.uri)
    if text is None or text == document.source:
        return []
    return [lsp.TextEdit(_range(document, 0, len(document.source)), text)]


@_answers(lsp.TEXT_DOCUMENT_DOCUMENT_SYMBOL)
def symbols(server: FeedscriptServer, params: lsp.DocumentSymbolParams) -> list[lsp.DocumentSymbol]:
    document, scope, _ = server.names(params.text_document.uri)
    return [_symbol(document, part) for part in outline(scope)]


def _symbol(document: TextDocument, part: Part) -> lsp.DocumentSymbol:
    return lsp.DocumentSymbol(
        part.label,
        _SYMBOLS[part.kind],
        _range(document, part.start, part.end),
        _range(document, part.name_start, part.name_end),
        detail=part.detail or None,
        children=[_symbol(document, inner) for inner in part.parts] or None,
    )


@_answers(lsp.TEXT_DOCUMENT_FOLDING_RANGE)
def folding(server: FeedscriptServer, params: lsp.FoldingRangeParams) -> list[lsp.FoldingRange]:
    _, scope, _ = server.names(params.text_document.uri)
    return [lsp.FoldingRange(first, last) for first, last in folds(scope)]


@_answers(lsp.TEXT_DOCUMENT_INLAY_HINT)
async def inlay_hints(server: FeedscriptServer, params: lsp.InlayHintParams) -> list[lsp.InlayHint]:
    checked = await server.settled(params.text_document.uri)
    document = server.snapshot(checked, params.text_document.uri)
    first, last = params.range.start.line, params.range.end.line
    found, place = [], Positions(document)
    for offset, label in hints(checked):
        position = place(offset)
        if first <= position.line <= last:
            found.append(lsp.InlayHint(position, label, padding_left=True))
    return found


@_answers(
    lsp.TEXT_DOCUMENT_SEMANTIC_TOKENS_FULL,
    lsp.SemanticTokensLegend([colour.value for colour in Colour], []),
)
def semantic_tokens(
    server: FeedscriptServer, params: lsp.SemanticTokensParams
) -> lsp.SemanticTokens:
    document = server.workspace.get_text_document(params.text_document.uri)
    colours = list(Colour)
    data: list[int] = []
    before, position = lsp.Position(0, 0), Positions(document)
    source = Source(str(path_of(params.text_document.uri)), document.source)
    for one in coloured(source, server.memo):
        start, end = position(one.start), position(one.end)
        if start.line != end.line:
            continue  # words over several lines are for an editor to colour as it likes
        line = start.line - before.line
        column = start.character - (before.character if line == 0 else 0)
        data += [line, column, end.character - start.character, colours.index(one.colour), 0]
        before = start
    return lsp.SemanticTokens(data)


@_answers(
    lsp.TEXT_DOCUMENT_CODE_ACTION,
    lsp.CodeActionOptions(code_action_kinds=[lsp.CodeActionKind.QuickFix]),
)
async def code_actions(
    server: FeedscriptServer, params: lsp.CodeActionParams
) -> list[lsp.CodeAction]:
    uri = params.text_document.uri
    checked = await server.settled(uri)
    document = server.snapshot(checked, uri)
    start = document.offset_at_position(params.range.start)
    end = document.offset_at_position(params.range.end)
    shown = [(one, _as_lsp(server, document, checked, one)) for one in checked.verdict.diagnostics]
    here = [
        (one, as_lsp)
        for one, as_lsp in shown
        if one.span is not None
        and document.offset_at_position(as_lsp.range.start) <= end
        and document.offset_at_position(as_lsp.range.end) >= start
    ]

    def tried() -> list[lsp.CodeAction]:
        return [
            _as_action(document, as_lsp, fix) for one, as_lsp in here for fix in fixes(checked, one)
        ]

    # Beside the loop, and given up with these words: every change that is tried is a whole check.
    try:
        return await asyncio.to_thread(tried)
    except GivenUpError:
        return []


def _as_action(document: TextDocument, shown: lsp.Diagnostic, fix: Fix) -> lsp.CodeAction:
    edit = lsp.TextEdit(_range(document, fix.change.start, fix.change.end), fix.change.words)
    change = lsp.TextDocumentEdit(
        lsp.OptionalVersionedTextDocumentIdentifier(uri=document.uri, version=document.version),
        [edit],
    )
    return lsp.CodeAction(
        fix.title,
        kind=lsp.CodeActionKind.QuickFix,
        diagnostics=[shown],
        edit=lsp.WorkspaceEdit(document_changes=[change]),
        is_preferred=True,
    )
