"""Colours: every word of a program has one, read off the parser and not off a second grammar."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from feedscript.editor.colouring import Colour, coloured
from feedscript.language.parse.source import Source
from feedscript.shipped import shipped_folder

TEXT = (
    'title "a # b" # "x" # c\nlet gap = 5 s\nballs { type 2 }\nfeed deep { land on service line }'
)


def words_of(text: str) -> list[tuple[str, Colour]]:
    return [(text[one.start : one.end], one.colour) for one in coloured(Source("", text))]


def test_each_word_is_what_the_parser_takes_it_for() -> None:
    assert words_of(TEXT) == [
        ("title", Colour.KEYWORD),
        ('"a # b"', Colour.TEXT),
        ('# "x" # c', Colour.COMMENT),
        ("let", Colour.KEYWORD),
        ("gap", Colour.DEFINED),
        ("5", Colour.NUMBER),
        ("s", Colour.UNIT),
        ("balls", Colour.KEYWORD),
        ("type", Colour.PROPERTY),
        ("2", Colour.NUMBER),
        ("feed", Colour.KEYWORD),
        ("deep", Colour.DEFINED),
        ("land", Colour.PROPERTY),
        ("on", Colour.PLACE),
        ("service", Colour.PLACE),
        ("line", Colour.PLACE),
    ]


def test_the_same_letters_are_another_thing_elsewhere() -> None:
    text = "lesson { until 5 in, at most 9 { send deep after 4 s } }\nlet in_inches = 5 in"
    found = words_of(text)
    assert ("in", Colour.PROPERTY) in found
    assert found[-1] == ("in", Colour.UNIT)


def test_every_shipped_program_is_coloured_through_and_through() -> None:
    for path in shipped_folder().rglob("*.feed"):
        text = path.read_text("utf-8")
        covered = [False] * len(text)
        for one in coloured(Source("", text)):
            assert not any(covered[one.start : one.end]), "nothing has two colours"
            covered[one.start : one.end] = [True] * (one.end - one.start)
        bare = "".join(letter for letter, done in zip(text, covered, strict=True) if not done)
        assert not any(letter.isalnum() for letter in bare), path


@given(st.text(alphabet='ab "#\n{}5.,“”\\', max_size=60))
def test_any_text_has_its_colours_in_order_and_apart(text: str) -> None:
    at = 0
    for one in coloured(Source("", text)):
        assert at <= one.start < one.end <= len(text)
        at = one.end
