"""Pygments finds the lexer, loses no character of a program, and colours what an editor colours."""

from __future__ import annotations

import pytest
from pygments.lexers import get_lexer_by_name, get_lexer_for_filename
from pygments.token import Comment, Keyword, Name, Number, String

from feedscript.shipped import program_path
from tests.conftest import ROOT

PROGRAMS = sorted((ROOT / "programs").rglob("*.feed"))


@pytest.mark.parametrize("path", PROGRAMS[:10], ids=lambda one: one.stem)
def test_nothing_of_a_program_is_lost(path) -> None:
    text = path.read_text("utf-8")
    lexer = get_lexer_for_filename(path.name, stripnl=False, ensurenl=False)
    assert "".join(part for _, part in lexer.get_tokens(text)) == text


def test_a_line_is_coloured() -> None:
    line = 'FEED deep-one { land 2 m inside baseline  speed 70 km/h }  # "note"\n'
    line += 'title "two \\" words"\n'
    found = [(part, token) for token, part in get_lexer_by_name("feedscript").get_tokens(line)]
    for expected in (
        ("FEED", Keyword),
        ("deep-one", Name.Function),
        ("land", Name.Attribute),
        ("70", Number),
        ("km/h", Keyword.Type),
        ("baseline", Name.Constant),
        ('# "note"', Comment),
        ('"two \\" words"', String),
    ):
        assert expected in found, expected


def test_most_of_a_program_has_a_colour() -> None:
    text = program_path("thursday-juniors").read_text("utf-8")
    tokens = list(get_lexer_by_name("feedscript").get_tokens(text))
    assert len({token for token, _ in tokens}) >= 8
