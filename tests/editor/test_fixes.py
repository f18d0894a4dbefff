"""What an editor offers to change: never words that were not tried on the program itself."""

from __future__ import annotations

import random
from pathlib import Path

import pytest
from click.testing import CliRunner
from lsprotocol import types as lsp

from feedscript.cli import verbs
from feedscript.cli.pages import all_pages
from feedscript.editor import fixes as module
from feedscript.editor.document import open_document
from feedscript.editor.fixes import fixes
from feedscript.shipped import shipped_folder
from tests.editor.client import Editor, with_editor
from tests.language.syntax_errors.test_any_text import mutated

#: Mistakes for which a change must be found, by the example on their page.
_MENDED = """
bad-name bad-number example-profile faster-than-shown hidden-character hopper-overfull idle-fact
idle-waiver impossible-air least-interval long-series missing-line missing-value net-clearance
no-area no-gap no-unit no-version nobody-there out-of-reach place-incomplete short-of-balls
speed-not-shown stray-character time-too-short too-fast-for-group turn-too-short unit-apart
unknown-choice unknown-expectation unknown-item unknown-name unknown-place unknown-property
unknown-step unknown-unit unknown-version wrong-dimension
"""


@pytest.fixture
def beside_profiles(tmp_path: Path) -> Path:
    for profile in (shipped_folder() / "launchers").glob("*.toml"):
        (tmp_path / profile.name).write_text(profile.read_text("utf-8"), "utf-8")
    return tmp_path


@pytest.mark.parametrize("slug", _MENDED.split())
def test_a_mistake_is_mended_by_one_click(slug: str, beside_profiles: Path) -> None:
    path = beside_profiles / "x.feed"
    document = open_document(path, all_pages()[slug].wrong)
    (found, *_) = [one for one in document.verdict.diagnostics if one.slug == slug]
    offered = fixes(document, found)
    assert offered
    # The command is the judge; it knows nothing of what is offered.
    for fix in offered[:1]:
        path.write_text(fix.change.made(document.text), "utf-8")
        said = CliRunner().invoke(verbs, ["check", str(path)]).output
        assert said.count(f"({slug})") < [one.slug for one in document.verdict.diagnostics].count(
            slug
        )


_GOOD = """feedscript 1
title "Four"
court { surface hard }
balls { type 2  load 60 }
launcher { profile "garage.toml"  stands 1 m behind centre mark }
group {
    players "Ana", "Ben"
    level club
}
feed deep {
    land 3 m inside baseline, on centre line
    speed 80 km/h
    spin top 1200 rpm
}
lesson { show speed of deep  for each player { send deep after 5 s  rest 12 s } }
"""


@pytest.mark.parametrize(
    ("right", "typed"),
    [
        ('players "Ana", "Ben"', "players Ana, Ben"),
        ('players "Ana", "Ben"', 'players "Ana", "Ben",'),
        ('players "Ana", "Ben"', '2 players "Ana", "Ben"'),
        ('players "Ana", "Ben"', "players 2"),
        ('"Four"', "»Four«"),
        ("for each player", "for every player"),
        ("spin top 1200", "topspin 1200"),
        ("1200", "1 200"),
        ("1200", "1.200"),
    ],
)
def test_what_a_newcomer_types_is_mended_by_one_click(
    right: str, typed: str, beside_profiles: Path
) -> None:
    path = beside_profiles / "x.feed"
    document = open_document(path, _GOOD.replace(right, typed))
    (found,) = [one for one in document.verdict.diagnostics if one.is_error]
    (first, *_) = fixes(document, found)
    path.write_text(first.change.made(document.text), "utf-8")
    done = CliRunner().invoke(verbs, ["check", str(path)])
    assert done.exit_code == 0, done.output


def test_nothing_is_offered_that_the_checker_does_not_confirm(
    beside_profiles: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """With the trial switched off, words that only look like a fix would be offered."""
    path = beside_profiles / "x.feed"
    document = open_document(path, all_pages()["kept-otherwise"].wrong)
    (found, *_) = [one for one in document.verdict.diagnostics if one.slug == "kept-otherwise"]
    assert not fixes(document, found)
    document = open_document(path, all_pages()["unknown-bounce"].wrong)
    (found, *_) = [one for one in document.verdict.diagnostics if one.slug == "unknown-bounce"]
    believed = set(fixes(document, found))
    monkeypatch.setattr(module, "_mends", lambda *_: True)
    assert set(fixes(document, found)) > believed


def test_broken_programs_get_no_traceback_and_no_new_error(beside_profiles: Path) -> None:
    text = (shipped_folder() / "thursday-juniors.feed").read_text("utf-8")
    rng = random.Random(9)
    offered = 0
    for _ in range(12):
        document = open_document(beside_profiles / "x.feed", mutated(text, text, rng))
        for found in document.verdict.diagnostics[:3]:
            offered += len(fixes(document, found))
    assert offered


def test_an_editor_is_told_the_fix_and_the_colours(tmp_path: Path) -> None:
    text = all_pages()["unknown-name"].wrong

    async def act(editor: Editor) -> None:
        (wrong,) = [one for one in await editor.diagnostics() if one.code == "unknown-name"]
        found = await editor.client.text_document_code_action_async(
            lsp.CodeActionParams(editor.identifier, wrong.range, lsp.CodeActionContext([wrong]))
        )
        (action,) = found or []
        assert isinstance(action, lsp.CodeAction)
        assert action.title == "write deep"
        assert action.edit is not None
        tokens = await editor.client.text_document_semantic_tokens_full_async(
            lsp.SemanticTokensParams(editor.identifier)
        )
        assert tokens is not None
        assert len(tokens.data) % 5 == 0
        assert list(tokens.data[:5]) == [0, 0, len("feedscript"), 0, 0]

    with_editor(tmp_path / "fix.feed", text, act)
