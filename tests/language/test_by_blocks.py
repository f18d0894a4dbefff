"""A text parsed block by block is the text parsed in one go: every node, token and place."""

from __future__ import annotations

import re
from typing import Any

import pytest

from feedscript.language import syntax
from feedscript.language.parse.source import Source
from feedscript.language.parse.token import Token
from feedscript.language.parse.tree import SyntaxNode
from feedscript.language.syntax import Parsed, parse
from feedscript.memo import Memo
from feedscript.shipped import shipped_programs
from tests.benchmarks.check import forty
from tests.desk.random_edits import PROGRAM, STATIONS, Coach


def said(value: Any) -> Any:
    """A tree as plain values, the places of its words too."""
    if isinstance(value, Token):
        return (value.type, str(value), value.start_pos, value.end_pos)
    if isinstance(value, tuple | list):
        return [said(one) for one in value]
    if isinstance(value, SyntaxNode):
        fields = type(value).__struct_fields__
        return (type(value).__name__, *(said(getattr(value, name)) for name in fields))
    return value


def everything(parsed: Parsed) -> Any:
    return said(parsed.tree), said(parsed.tokens), parsed.diagnostics, parsed.damage


def held(text: str, memo: Memo, what: object = "") -> None:
    source = Source("some.feed", text)
    assert everything(parse(source, memo)) == everything(parse(source)), what


def test_what_is_shipped_is_read_alike() -> None:
    memo = Memo()
    for path in shipped_programs().values():
        held(path.read_text("utf-8"), memo, path)


@pytest.mark.parametrize("program", [PROGRAM, STATIONS])
def test_a_text_that_is_edited_is_read_alike(program: str, tmp_path: object) -> None:
    coach, memo = Coach(tmp_path, program, 7), Memo()
    for number in range(60):
        what = coach.edit(stuck=False)
        held(coach.text, memo, (number, what))


@pytest.mark.parametrize(
    "text",
    [
        "",
        "# nothing } \n",
        "feedscript 1\nlet a = 3 # }\nballs { type 2 }\n",
        "let a = 2 m  # } \nlet b = a\n",
        'title "}"\nfeed a {}\n\n# between }\n\nFEED b {}\nlesson {\n}\ncoach { walks deuce half }',
        "feed a { land 1 m }\nfeed b { land 2 m }}\nfeed c { }\n",
        "lesson { repeat 2 {\n} }\nfeed late { speed 80 km/h }\n",
        "lesson { repeat 2 {\n}\nfeed late { speed 80 km/h }\n",
        "feed a {}\nfeedscript 1\nfeed b {}\n",
    ],
)
def test_odd_texts_are_read_alike(text: str) -> None:
    held(text, Memo())


def test_a_text_nested_deeper_than_anybody_writes_is_read() -> None:
    text = f"feed a {{}}\nlet b = {'(' * 5000}1{')' * 5000}\n"
    source = Source("some.feed", text)
    assert len(parse(source, Memo()).tokens) == len(parse(source).tokens) > 10_000


def test_only_the_block_that_was_changed_is_parsed_again(monkeypatch: pytest.MonkeyPatch) -> None:
    memo, text, read = Memo(), forty(6), list[str]()
    block = syntax._block
    monkeypatch.setattr(syntax, "_block", lambda words: [read.append(words), block(words)][1])
    monkeypatch.setattr(syntax, "_parsed", lambda _: pytest.fail("it was parsed in one go"))
    parse(Source("some.feed", text), memo)
    assert "".join(read) == text
    read.clear()
    parse(Source("some.feed", re.sub(r"(feed f3 .*?speed )\d+", r"\g<1>7", text, flags=re.S)), memo)
    assert len(read) == 1
    assert read[0].startswith("feed f3 ")
