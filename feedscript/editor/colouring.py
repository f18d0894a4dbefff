"""What each word of a program is, for an editor to colour: read off the parser's own tokens."""

from __future__ import annotations

import re
from collections.abc import Iterator
from enum import StrEnum

import msgspec

from feedscript.language.parse.source import Source
from feedscript.language.parse.tables import tables
from feedscript.language.parse.token import Token
from feedscript.language.syntax import parse
from feedscript.language.words import ITEMS
from feedscript.memo import Memo


class Colour(StrEnum):
    """What a word is. The names are those of the Language Server Protocol's token types."""

    KEYWORD = "keyword"
    PROPERTY = "property"  # a word that begins a line inside a block
    PLACE = "enumMember"
    NAME = "variable"
    DEFINED = "function"  # a name where it is defined
    NUMBER = "number"
    UNIT = "type"
    TEXT = "string"
    COMMENT = "comment"


class Coloured(msgspec.Struct, frozen=True):
    """A word's place in the text, in characters, and what it is."""

    start: int
    end: int
    colour: Colour


_KINDS = {
    "NAME": Colour.NAME,
    "NUMBER": Colour.NUMBER,
    "BAD_NUMBER": Colour.NUMBER,
    "UNIT": Colour.UNIT,
    "STRING": Colour.TEXT,
    "BAD_STRING": Colour.TEXT,
    "PLACE_WORD": Colour.PLACE,
    "SPIN_WORD": Colour.PLACE,
}
_DEFINERS = frozenset({"FEED", "PATTERN", "LET"})


def coloured(source: Source, memo: Memo | None = None) -> tuple[Coloured, ...]:
    """Every word of a text that has a colour, in order; ``memo`` is of earlier parses."""
    found = [*_of_tokens(parse(source, memo).tokens), *_comments(source.text)]
    return tuple(sorted(found, key=lambda one: one.start))


def _of_tokens(tokens: list[Token]) -> Iterator[Coloured]:
    before = ""
    for token in tokens:
        colour = _colour(token, before)
        # A token of no width was put in by a repair, and stands nowhere.
        if colour is not None and token.end_pos > token.start_pos:
            yield Coloured(token.start_pos, token.end_pos, colour)
        before = token.type


def _colour(token: Token, before: str) -> Colour | None:
    if token.type == "NAME" and before in _DEFINERS:
        return Colour.DEFINED
    if token.type in _KINDS:
        return _KINDS[token.type]
    if not token[:1].isalpha():
        return None
    heads = token.type in ITEMS or token.lower() in tables().reserved
    return Colour.KEYWORD if heads else Colour.PROPERTY


def _comments(text: str) -> Iterator[Coloured]:
    """Comments lie between tokens; a ``#`` inside words in quotation marks begins none."""
    patterns = tables().patterns
    quoted = f"{patterns['STRING'][0]}|{patterns['BAD_STRING'][0]}"
    for found in re.finditer(rf"{quoted}|(?P<comment>#[^\n]*)", text):
        if found["comment"] is not None:
            yield Coloured(found.start(), found.end(), Colour.COMMENT)
