"""The language server, asked by a real client over standard input and output."""

from __future__ import annotations

from lsprotocol import types as lsp

from tests.editor.client import Editor, with_editor

PROGRAM = """\
feedscript 1
title "Éditeur 🎾"
use "library/warm_up.feed"
court { surface clay  altitude 100 m  air 20 C }
balls { type 2  load 60 }
launcher { profile "garage.toml"  stands 1 m behind centre mark }
let gap = 5 s
feed deep {
    land 3 m inside baseline, 1 m to ad of centre line
    speed 80 km/h
    spin top 300 rpm
}
feed other = mirror deep
pattern pair(ball: feed, pause: time = gap) {
    send ball after pause
    send other after pause
}
lesson {
    show speed of deep
    pair(deep, pause = 6 s)
    rest 20 s
    warm_up.warm_up(5)
    send deep after gap
}
expect { deep clears net by 0.5 m }
"""


def test_diagnostics_come_while_typing(tmp_path) -> None:
    async def act(editor: Editor) -> None:
        # A slow ball with little spin warns that nobody measured the like; nothing else is said.
        assert {d.code for d in await editor.diagnostics()} == {"beyond-model"}
        editor.type(PROGRAM.replace("send deep after gap", "send depe after gap"))
        (found,) = await editor.diagnostics()
        assert found.code == "unknown-name"
        assert found.severity is lsp.DiagnosticSeverity.Error
        assert "did you mean `deep`?" in found.message
        assert found.range.start == editor.position("depe")
        assert found.range.end == editor.position("depe", 4)
        (related,) = found.related_information
        assert related.location.range.start == editor.position("deep {")
        editor.type(PROGRAM)
        assert {d.code for d in await editor.diagnostics()} == {"beyond-model"}
        # No line ends at these for an editor: what stands below is found in its own line.
        editor.type(PROGRAM.replace("let gap", "# \f\u2028\nlet\u2028 gap"))
        places = [d.range.start for d in await editor.diagnostics()]
        assert editor.position("\u2028 gap") in places

    with_editor(tmp_path / "typing.feed", PROGRAM, act)


def test_reach_and_safety_are_diagnosed_too(tmp_path) -> None:
    async def act(editor: Editor) -> None:
        assert "out-of-reach" in {d.code for d in await editor.diagnostics()}
        editor.type(PROGRAM.replace("pause = 6 s", "pause = 0.2 s"))
        assert "too-soon" in {d.code for d in await editor.diagnostics()}

    slow = PROGRAM.replace("speed 80 km/h", "speed 40 km/h")
    with_editor(tmp_path / "reach.feed", slow, act)


def test_hover_and_hints_show_the_resolved_aim(tmp_path) -> None:
    async def hover(editor: Editor, marked: str, at: int = 0) -> str:
        params = lsp.HoverParams(editor.identifier, editor.position(marked, at))
        found = await editor.client.text_document_hover_async(params)
        assert found is not None, marked
        assert isinstance(found.contents, lsp.MarkupContent)
        return found.contents.value

    async def act(editor: Editor) -> None:
        feed = await hover(editor, "deep after")
        assert "lands 8.89 m from the net, 1.00 m to the ad side" in feed
        assert "80 km/h, 22.2 m/s, 49.7 mph" in feed
        assert "over the net" in feed
        assert "flight" in feed
        assert "1.00 m to the deuce side" in await hover(editor, "other after")
        assert await hover(editor, "80 km/h") == "80 km/h, 22.2 m/s, 49.7 mph"
        assert await hover(editor, "gap\n}") == "`gap` = `5 s`"
        assert "pattern `warm_up(balls: count, gap: time, minutes: time)`" in await hover(
            editor, "warm_up(5)", 2
        )
        whole = lsp.Range(lsp.Position(0, 0), lsp.Position(99, 0))
        hints = await editor.client.text_document_inlay_hint_async(
            lsp.InlayHintParams(editor.identifier, whole)
        )
        labels = {hint.position.line: hint.label for hint in hints}
        assert labels[8] == "= +1.00, 8.89 m"
        assert labels[9].endswith(" s")
        assert "over net" in labels[9]

    with_editor(tmp_path / "hover.feed", PROGRAM, act)


def test_completion_offers_what_may_stand_there(tmp_path) -> None:
    async def offered(editor: Editor, marked: str, at: int = 0) -> set[str]:
        params = lsp.CompletionParams(editor.identifier, editor.position(marked, at))
        found = await editor.client.text_document_completion_async(params)
        assert isinstance(found, lsp.CompletionList)
        return {item.label for item in found.items}

    async def act(editor: Editor) -> None:
        assert {"deep", "other", "warm_up.full_court"} <= await offered(editor, "deep after")
        assert "gap" in await offered(editor, "gap\n}")
        assert {"km/h", "m/s", "mph"} <= await offered(editor, "km/h")
        assert {"hard", "clay", "grass", "carpet"} == await offered(editor, "clay")
        assert {"baseline", "service line", "ad sideline"} <= await offered(editor, "baseline,")
        steps = await offered(editor, "send deep")
        assert {"send", "rest", "repeat", "choose", "pair()", "warm_up.warm_up()"} <= steps
        assert "speed" not in steps
        assert {"speed", "land", "spin", "within"} <= await offered(editor, "speed 80")

    with_editor(tmp_path / "completion.feed", PROGRAM, act)


def test_names_are_found_and_renamed(tmp_path, root) -> None:
    async def act(editor: Editor) -> None:
        place = editor.position("deep after gap")
        there = await editor.client.text_document_definition_async(
            lsp.DefinitionParams(editor.identifier, place)
        )
        assert isinstance(there, lsp.Location)
        assert there.range.start == editor.position("deep {")
        far = await editor.client.text_document_definition_async(
            lsp.DefinitionParams(editor.identifier, editor.position("warm_up(5)", 1))
        )
        assert isinstance(far, lsp.Location)
        assert far.uri == (root / "programs/library/warm_up.feed").as_uri()
        edit = await editor.client.text_document_rename_async(
            lsp.RenameParams(editor.identifier, place, "long-ball")
        )
        assert edit is not None
        assert edit.document_changes is not None
        (change,) = edit.document_changes
        assert isinstance(change, lsp.TextDocumentEdit)
        assert len(change.edits) == PROGRAM.count("deep")
        assert all(one.new_text == "long-ball" for one in change.edits)
        for name in ("2nd", "send", "corner", "gap"):
            params = lsp.RenameParams(editor.identifier, place, name)
            assert await editor.client.text_document_rename_async(params) is None, name

    with_editor(tmp_path / "names.feed", PROGRAM, act)


def test_symbols_and_formatting(tmp_path) -> None:
    async def act(editor: Editor) -> None:
        found = await editor.client.text_document_document_symbol_async(
            lsp.DocumentSymbolParams(editor.identifier)
        )
        names = [symbol.name for symbol in found]
        assert {"feed deep", "pattern pair", "let gap", "lesson", "court"} <= set(names)
        options = lsp.FormattingOptions(tab_size=4, insert_spaces=True)
        params = lsp.DocumentFormattingParams(editor.identifier, options)
        assert not await editor.client.text_document_formatting_async(params)
        editor.type(PROGRAM.replace("    land 3 m", "land   3 m"))
        edits = await editor.client.text_document_formatting_async(params) or []
        assert [edit.new_text for edit in edits] == [PROGRAM]

    with_editor(tmp_path / "symbols.feed", PROGRAM, act)
