"""Many places of one text, as the server library counts each alone."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st
from lsprotocol import types as lsp
from pygls.workspace import PositionCodec, TextDocument

from feedscript.editor.open_text import OpenText
from feedscript.editor.positions import Positions


@given(
    st.text("aé🎾 \n\r\u2028", min_size=1, max_size=40),
    st.sampled_from(list(lsp.PositionEncodingKind)),
)
def test_a_place_is_counted_as_the_library_counts_it(
    text: str, encoding: lsp.PositionEncodingKind
) -> None:
    document = TextDocument("file:///a.feed", text, position_codec=PositionCodec(encoding))
    position = Positions(document)
    for offset in range(len(text)):
        assert position(offset) == document.client_position_at_offset(offset)


@pytest.mark.parametrize(
    ("text", "end"), [("", (0, 0)), ("one", (0, 3)), ("one\n", (1, 0)), ("one\ntwo", (1, 3))]
)
def test_past_the_end_is_where_the_next_letter_would_be(text: str, end: tuple[int, int]) -> None:
    """No editor has the line after a last one that is not ended."""
    position = Positions(TextDocument("file:///a.feed", text))
    assert position(len(text)) == position(len(text) + 5) == lsp.Position(*end)


def test_the_text_is_cut_into_lines_once(monkeypatch: pytest.MonkeyPatch) -> None:
    cut: list[TextDocument] = []
    lines = TextDocument.lines
    assert isinstance(lines, property)
    assert lines.fget is not None
    read = lines.fget

    def counted(document: TextDocument) -> object:
        cut.append(document)
        return read(document)

    monkeypatch.setattr(TextDocument, "lines", property(counted))
    position = Positions(TextDocument("file:///a.feed", "feed\n" * 500))
    assert [position(offset).line for offset in range(0, 2500, 5)] == list(range(500))
    assert len(cut) == 1


def spoken(text: str, offset: int) -> tuple[int, int]:
    """A place by the protocol's own words: three line ends, and letters of UTF-16 before it."""
    lines = text[:offset].replace("\r\n", "\n").replace("\r", "\n").split("\n")
    return len(lines) - 1, len(lines[-1].encode("utf-16-le")) // 2


STRANGE = st.text("aé🎾 \n\r\f\v\x1c\x85\u2028\u2029", min_size=1, max_size=40)


@given(STRANGE)
def test_a_line_ends_where_the_protocol_says_and_nowhere_else(text: str) -> None:
    document = OpenText("file:///a.feed", text)
    position = Positions(document)
    for offset in range(len(text)):
        if text[offset - 1 : offset + 1] == "\r\n":
            continue  # inside of one end
        line, character = spoken(text, offset)
        assert position(offset) == lsp.Position(line, character)
        assert document.offset_at_position(lsp.Position(line, character)) == offset


@given(STRANGE, st.data())
def test_a_change_changes_what_the_editor_meant(text: str, data: st.DataObject) -> None:
    text = text.replace("\r", "")
    start, end = sorted(data.draw(st.integers(0, len(text))) for _ in range(2))
    document = OpenText("file:///a.feed", text)
    around = lsp.Range(lsp.Position(*spoken(text, start)), lsp.Position(*spoken(text, end)))
    document.apply_change(lsp.TextDocumentContentChangePartial(around, "new\n"))
    assert document.source == f"{text[:start]}new\n{text[end:]}"
