"""The editor finds a coach's own files where the check does, and offers what `suits` takes."""

from __future__ import annotations

from pathlib import Path

from feedscript.check.check_program import Options, check_program
from feedscript.editor.completion import offers
from feedscript.editor.document import names_in, open_document
from feedscript.editor.fixes import fixes
from feedscript.language.examples import program

FEED = "feedscript 1\nfeed ball { land 3 m inside baseline, on centre line  speed 78 km/h }\n"


def test_a_file_of_the_own_library_is_found_by_editor_and_check(tmp_path: Path) -> None:
    library = tmp_path / "mine"
    library.mkdir()
    (library / "volleys.feed").write_text(FEED)
    text = program(more='use "my/volleys"', steps="show speed of deep  send volleys.ball after 5 s")
    path = tmp_path / "home" / "lesson.feed"
    opened = open_document(path, text, library)
    checked = check_program(path, Options(library=library), text=text)
    assert opened.verdict.diagnostics == checked.diagnostics
    assert opened.verdict.program is not None
    assert [offer.label for offer in offers(opened.scope, text, text.index("volleys.ball"))]
    assert "volleys" in opened.scope.files
    without = open_document(path, text, tmp_path / "other")
    assert "cannot-use" in {one.slug for one in without.verdict.diagnostics}


def test_a_fix_is_tried_with_the_own_library_and_in_a_season_too(tmp_path: Path) -> None:
    library = tmp_path / "mine"
    library.mkdir()
    (library / "volleys.feed").write_text(FEED)
    steps = "show speed of deep  send volleys.bal after 5 s"
    text = program(more='use "my/volleys"', steps=steps)
    opened = open_document(tmp_path / "lesson.feed", text, library)
    (found,) = [one for one in opened.verdict.diagnostics if one.is_error]
    assert [one.change.words for one in fixes(opened, found)] == ["volleys.ball"]
    season = """feedscript 1
season "S" {
    every monday at 5 pm for 60 min in "Europe/Vienna"
    from 2027-01-11
    week 1 "Depth" { use "wednesday-six" }
}
"""
    opened = open_document(tmp_path / "s.season", season, library)
    (found,) = opened.verdict.diagnostics
    assert found.slug == "bad-time"
    assert "17:00" in {one.change.words for one in fixes(opened, found)}


def test_stages_and_levels_are_offered_on_either_side_of_to() -> None:
    for line in ("stage ", "stage red to ", "stage green, "):
        text = f"feedscript 1\nsuits {{ {line}"
        scope, _ = names_in(Path("/nowhere/x.feed"), text)
        assert {"red", "county"} <= {offer.label for offer in offers(scope, text, len(text))}


def test_programs_are_offered_where_a_season_names_them() -> None:
    head = 'feedscript 1\nseason "S" {\n    week 1 "Depth" { '
    for line in ('use "', 'use "wed', 'monday "', "monday "):
        text = head + line
        scope, _ = names_in(Path("/nowhere/x.season"), text)
        labels = [offer.label.strip('"') for offer in offers(scope, text, len(text))]
        assert "wednesday-six" in labels, line
    for line, wanted in (("", "monday"), ("every ", "friday")):
        text = head + line if not line else f'feedscript 1\nseason "S" {{ {line}'
        scope, _ = names_in(Path("/nowhere/x.season"), text)
        assert wanted in {offer.label for offer in offers(scope, text, len(text))}
