"""Players, subgroups, stations, exercises and targets in an editor: offered, renamed, told of."""

from __future__ import annotations

from pathlib import Path

from lsprotocol import types as lsp

from feedscript.check.check_program import check_program
from feedscript.plan.interpreter.actions import Ask, SendBall
from feedscript.plan.interpreter.runs import run_through
from tests.editor.client import Editor, with_editor

PROGRAM = """\
feedscript 1
title "Sechs 🎾 und zwei"
court { surface hard }
balls { type 2  load 60 }
launcher wall { profile "garage.toml"  stands 1 m behind centre mark }
group {
    player "Ana" { level club  left-handed  speaks de }
    players "Ben", "Cleo de Vries", "Dan"
    level improver
    subgroup "little ones" "Ben", "Dan"
    keep together "Ana", "Ben"
    receiver 1 m behind baseline, on centre line
}
feed deep { land 3 m inside baseline, on centre line  speed 80 km/h  spin top 900 rpm }
feed soft { land 4 m inside baseline, on centre line  speed 74 km/h  spin top 900 rpm }
lesson {
    show speed of deep
    exercise "Depth" for 8 min {
        aim "past the service line"
        for each player except "Ana" {
            repeat 6 {
                send by level { club: deep  otherwise: soft } after 5 s
            }
            rest 12 s
        }
    }
    collect
    exercise "Ana alone" {
        # for "Ben", one day
        for "Ana", "little ones" { repeat 2 { send deep after 5 s }  rest 12 s }
    }
    rotate stations every 3 min {
        station "drives" on launcher wall { repeat 3 { send soft after 5 s }  rest 12 s }
        station "fence" { work "Split step." for 60 s }
    }
}
"""


async def items(editor: Editor, marked: str, at: int) -> list[lsp.CompletionItem]:
    params = lsp.CompletionParams(editor.identifier, editor.position(marked, at))
    found = await editor.client.text_document_completion_async(params)
    assert isinstance(found, lsp.CompletionList)
    return list(found.items)


async def offered(editor: Editor, marked: str, at: int = 0) -> set[str]:
    return {item.label for item in await items(editor, marked, at)}


def test_names_are_offered_in_the_quotation_marks_where_they_are_expected(tmp_path) -> None:
    async def act(editor: Editor) -> None:
        people = {"Ana", "Ben", "Cleo de Vries", "Dan", "little ones"}
        assert await offered(editor, 'except "Ana"', 8) == people
        assert await offered(editor, 'for "Ana", "li', 5) == people
        # Who stands in the list already is not offered again.
        assert await offered(editor, '"little ones" {', 4) == people - {"Ana"}
        players = people - {"little ones"}
        assert await offered(editor, 'ones" "Ben"', 7) == players
        assert await offered(editor, 'keep together "Ana"', 15) == players
        assert await offered(editor, 'station "fence"', 9) == {"drives", "fence"}
        # Without a mark the name comes with its own; a new name and plain words are not offered.
        assert '"Ana"' in await offered(editor, '"Ana", "little', 0)
        assert await offered(editor, 'players "Ben"', 9) == set()
        assert await offered(editor, 'exercise "Depth"', 10) == set()
        assert await offered(editor, 'aim "past', 6) == set()
        assert await offered(editor, '"Ben", one day', 1) == set()  # a comment
        assert await offered(editor, "wall {", 0) == set()  # a launcher's own name
        assert await offered(editor, "wall { repeat") == {"wall"}
        assert await offered(editor, "de }", 0) == {"en", "de", "es", "fr"}
        levels = await offered(editor, "otherwise: soft")
        assert {"beginner", "improver", "club", "county", "touring", "otherwise"} == levels

    with_editor(tmp_path / "offered.feed", PROGRAM, act)


def test_a_name_of_several_words_takes_the_place_of_what_was_typed(tmp_path) -> None:
    text = PROGRAM.replace('for "Ana", "little ones" {', 'for "Cleo d')

    async def act(editor: Editor) -> None:
        found = await items(editor, 'for "Cleo d', 11)
        (edit,) = [item.text_edit for item in found if item.label == "Cleo de Vries"]
        assert isinstance(edit, lsp.TextEdit)
        assert edit.new_text == "Cleo de Vries"
        assert edit.range.start == editor.position('for "Cleo d', 5)
        assert edit.range.end == editor.position('for "Cleo d', 11)

    with_editor(tmp_path / "typed.feed", text, act)


async def renamed(editor: Editor, marked: str, at: int, new: str) -> str | None:
    """The text after a rename; nothing where it is refused."""
    params = lsp.RenameParams(editor.identifier, editor.position(marked, at), new)
    edit = await editor.client.text_document_rename_async(params)
    if edit is None:
        return None
    assert edit.document_changes is not None
    (change,) = edit.document_changes
    assert isinstance(change, lsp.TextDocumentEdit)
    lines = editor.text.encode("utf-16-le").split("\n".encode("utf-16-le"))
    for one in sorted(change.edits, key=lambda e: (e.range.start.line, e.range.start.character))[
        ::-1
    ]:
        assert isinstance(one, lsp.TextEdit)
        place = one.range
        line = lines[place.start.line]
        before, after = line[: 2 * place.start.character], line[2 * place.end.character :]
        lines[place.start.line] = before + one.new_text.encode("utf-16-le") + after
    return "\n".encode("utf-16-le").join(lines).decode("utf-16-le")


def verdict_of(folder: Path, text: str) -> list[str]:
    path = folder / "renamed.feed"
    path.write_text(text, "utf-8")
    return sorted(one.slug for one in check_program(path).diagnostics)


def test_a_player_is_renamed_everywhere_and_the_program_means_the_same(tmp_path) -> None:
    async def act(editor: Editor) -> None:
        text = await renamed(editor, 'for "Ana", "little', 6, "Anna Maria")
        assert text is not None
        # The exercise's title, the comment and other words keep theirs.
        assert text == PROGRAM.replace('"Ana"', '"Anna Maria"')
        assert 'exercise "Ana alone"' in text
        assert verdict_of(tmp_path, text) == verdict_of(tmp_path, PROGRAM)
        text = await renamed(editor, 'subgroup "little ones"', 12, "small")
        assert text == PROGRAM.replace('"little ones"', '"small"')
        text = await renamed(editor, 'station "drives"', 12, "wall")
        assert text == PROGRAM.replace('"drives"', '"wall"')
        text = await renamed(editor, 'exercise "Depth"', 12, "Length")
        assert text == PROGRAM.replace('"Depth"', '"Length"')
        for taken in ("Ben", "little ones", "", " ", 'A"B', "A\nB"):
            assert await renamed(editor, 'for "Ana", "little', 6, taken) is None, taken
        assert await renamed(editor, 'aim "past', 7, "over") is None

    with_editor(tmp_path / "rename.feed", PROGRAM, act)


def balls_of_ana(folder: Path) -> int:
    """How many balls a run of the plan sends while she is on."""
    path = folder / "counted.feed"
    path.write_text(PROGRAM, "utf-8")
    plan = check_program(path).plan
    assert plan is not None
    run = run_through(plan, lambda one: False if isinstance(one, Ask) else None)
    return sum(isinstance(one, SendBall) and one.player == 0 for one in run)


def test_an_exercise_and_a_player_are_told_of_under_the_pointer(tmp_path) -> None:
    async def hover(editor: Editor, marked: str, at: int) -> str:
        params = lsp.HoverParams(editor.identifier, editor.position(marked, at))
        found = await editor.client.text_document_hover_async(params)
        assert found is not None
        assert isinstance(found.contents, lsp.MarkupContent)
        return found.contents.value

    async def act(editor: Editor) -> None:
        depth = await hover(editor, 'exercise "Depth"', 12)
        assert "8 min planned" in depth
        assert "18 balls" in depth  # three players, six each
        ana = await hover(editor, 'for "Ana", "little', 6)
        assert "club, left-handed, speaks Deutsch" in ana
        assert f"gets {balls_of_ana(tmp_path)} balls in the lesson" in ana
        assert "Ben, Dan" in await hover(editor, '"little ones" {', 3)
        fence = await hover(editor, 'station "fence"', 10)
        assert "without a launcher" in fence
        assert "launcher wall" in await hover(editor, 'station "drives"', 10)

    with_editor(tmp_path / "hover.feed", PROGRAM, act)


def test_exercises_stand_in_the_outline_and_fold(tmp_path) -> None:
    async def act(editor: Editor) -> None:
        found = await editor.client.text_document_document_symbol_async(
            lsp.DocumentSymbolParams(editor.identifier)
        )
        (lesson,) = [one for one in found or () if one.name == "lesson"]
        assert isinstance(lesson, lsp.DocumentSymbol)
        inside = [(one.name, one.detail) for one in lesson.children or ()]
        assert inside == [
            ("Depth", "8 min"),
            ("Ana alone", None),
            ("drives", "station"),
            ("fence", "station"),
        ]
        depth = (lesson.children or ())[0]
        assert depth.selection_range.start == editor.position('"Depth"')
        ranges = await editor.client.text_document_folding_range_async(
            lsp.FoldingRangeParams(editor.identifier)
        )
        lines = editor.text.split("\n")
        folded = {lines[one.start_line].strip(): lines[one.end_line + 1] for one in ranges or ()}
        assert folded['exercise "Depth" for 8 min {'] == "    }"
        assert folded['for each player except "Ana" {'] == "        }"
        assert folded["lesson {"] == "}"
        assert folded["group {"] == "}"
        assert len(folded) == 7  # and the repeat, the other exercise and the rotation

    with_editor(tmp_path / "outline.feed", PROGRAM, act)


SEASON = """\
feedscript 1
season "Autumn" {
    every monday at 17:00 for 60 min in "Europe/Vienna"
    from 2027-01-11
    week 1 to 2 "Depth" { use "wednesday-six" }
    week 3 "Net play" { monday "thursday-juniors" }
}
"""


def test_weeks_stand_in_the_outline_of_a_season_and_nothing_of_a_lesson_is_offered(
    tmp_path,
) -> None:
    async def act(editor: Editor) -> None:
        found = await editor.client.text_document_document_symbol_async(
            lsp.DocumentSymbolParams(editor.identifier)
        )
        (season,) = found or ()
        assert isinstance(season, lsp.DocumentSymbol)
        assert season.name == 'season "Autumn"'
        weeks = [(one.name, one.detail) for one in season.children or ()]
        assert weeks == [("Depth", "week 1 to 2"), ("Net play", "week 3")]
        assert await offered(editor, '"Europe', 1) == set()
        assert "thursday-juniors" in await offered(editor, '"wednesday-six"', 4)

    with_editor(tmp_path / "season.feed", SEASON, act)


TARGETS = PROGRAM.replace(
    "feed deep {",
    """target "deep cross" {
    between 2 m inside baseline, on centre line and on baseline, on ad sideline
    marked "deep cross"
}
target "net" { area forecourt }
feed deep {""",
    1,
).replace(
    'aim "past the service line"',
    """target "deep cross"
        goal 3 of 5 in "deep cross"
        score to 5 { in "deep cross": 2  in: 1 }""",
)


def test_targets_are_offered_and_renamed_where_they_are_named(tmp_path) -> None:
    async def act(editor: Editor) -> None:
        targets = {"deep cross", "net"}
        assert await offered(editor, 'target "deep cross"\n        goal', 10) == targets
        assert await offered(editor, '5 in "deep cross"', 8) == targets
        assert await offered(editor, 'in "deep cross": 2', 5) == targets
        assert await offered(editor, 'marked "deep', 10) == set()
        text = await renamed(editor, '5 in "deep cross"', 8, "far")
        marked = 'marked "deep cross"'
        assert text == TARGETS.replace('"deep cross"', '"far"').replace('marked "far"', marked)
        assert verdict_of(tmp_path, text) == verdict_of(tmp_path, TARGETS)
        assert await renamed(editor, '5 in "deep cross"', 8, "net") is None

    with_editor(tmp_path / "targets.feed", TARGETS, act)
