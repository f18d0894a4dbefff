"""The reference is true: its grammar is today's, and each of its examples is a program."""

from __future__ import annotations

import re

import pytest

from feedscript.language import read
from feedscript.language.resolve.loading import load_beside
from feedscript.language.tools import diagnostics_page, ebnf
from feedscript.shipped import shipped_folder

REFERENCE = ebnf.REFERENCE.read_text(encoding="utf-8")

#: Stands around an example that is a part only; an example's own items take the place of these.
AROUND = {
    "feedscript": "feedscript 1",
    "court": "court { surface hard }",
    "balls": "balls { type 2  load 60 }",
    "launcher": "launcher { stands 1 m behind centre mark }",
    "group": 'group { players "Ash", "Birch", "Cedar", "Dill" }',
    "feed deep": "feed deep { land 3 m inside baseline, on centre line  speed 80 km/h }",
    "feed wide": "feed wide = deep with { land 3 m inside baseline, 1 m inside ad sideline }",
    "feed short_ball": "feed short_ball { land middle of ad box  speed 66 km/h }",
    "pattern two_corners": "pattern two_corners(first: feed, second: feed, n: count = 2) "
    "{ repeat n { send first after 5 s  send second after 5 s } }",
}
LESSON = "lesson { show speed of deep  send deep after 5 s }"
EXAMPLES = re.findall(r"^```feedscript ?(\w*)\n(.*?)^```$", REFERENCE, re.DOTALL | re.MULTILINE)


def whole(kind: str, example: str) -> str:
    if not kind:
        return example
    if kind == "feed":
        example = (
            f"feed shown {{ land 3 m inside baseline, on centre line  speed 80 km/h\n{example}}}"
        )
    around = [
        line
        for word, line in AROUND.items()
        if kind == "steps" or not re.search(rf"^{word}\b", example, re.MULTILINE)
    ]
    lesson = f"lesson {{\n{example}}}" if kind == "steps" else f"{example}\n{LESSON}"
    return "\n".join([*around, lesson]) + "\n"


@pytest.mark.parametrize(("kind", "example"), EXAMPLES)
def test_each_example_reads_without_a_word(kind: str, example: str, tmp_path) -> None:
    program = tmp_path / "example.feed"
    text = whole(kind, example)
    made, diagnostics = read(text, str(program), load=load_beside(program, shipped_folder()))
    assert diagnostics == ()
    assert made is not None


def test_the_readmes_first_program_reads_without_a_word(root) -> None:
    readme = (root / "README.md").read_text(encoding="utf-8")
    programs = re.findall(r"^```feedscript\n(.*?)^```$", readme, re.DOTALL | re.MULTILINE)
    assert programs
    for text in programs:
        assert read(text, "readme.feed")[1] == ()


def test_there_are_examples() -> None:
    assert len(EXAMPLES) > 15


def test_the_grammar_is_todays() -> None:
    assert ebnf.with_grammar(REFERENCE) == REFERENCE, "run python -m feedscript.language.tools.ebnf"


def test_the_grammar_defines_all_that_it_uses() -> None:
    text = ebnf.grammar()
    defined = set(re.findall(r"^(\w+) =", text, re.MULTILINE))
    plain = re.sub(r'\?[^?]*\?|"[^"]*"|\(\*.*?\*\)', " ", text)
    used = set(re.findall(r"[a-zA-Z_]\w*", plain))
    assert used == defined


def test_the_diagnostics_are_todays() -> None:
    stored = diagnostics_page.FILE.read_text(encoding="utf-8")
    assert stored == diagnostics_page.as_markdown(), (
        "run python -m feedscript.language.tools.diagnostics_page"
    )
