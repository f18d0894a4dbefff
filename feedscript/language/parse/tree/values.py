"""Nodes of values, names, words and places."""

from __future__ import annotations

from typing import TypeAlias

import msgspec

from feedscript.language.parse.token import Token


class SyntaxNode(msgspec.Struct, frozen=True, gc=False):
    """A part of the text, from ``start`` up to but not including ``end``.

    Trees hold no cycles, so the collector need not visit them (``gc=False``): a third of the time
    that a long program takes.
    """

    start: int
    end: int


class Text(SyntaxNode, frozen=True, gc=False):
    """Words in quotation marks, as they stand in the text, marks included."""

    raw: str
    closed: bool


class Number(SyntaxNode, frozen=True, gc=False):
    """A number as written; ``good`` is false for a comma inside it and the like."""

    raw: str
    good: bool


class Quantity(SyntaxNode, frozen=True, gc=False):
    """A number and, where it has one, its unit."""

    number: Number
    unit: Token | None


class Name(SyntaxNode, frozen=True, gc=False):
    """A name, after the name of the file it comes from where that is written."""

    text: str
    file: str | None = None

    @property
    def written(self) -> str:
        """As the program says it."""
        return f"{self.file}.{self.text}" if self.file else self.text


class Mirrored(SyntaxNode, frozen=True, gc=False):
    """``mirror NAME``."""

    name: Name


class Signed(SyntaxNode, frozen=True, gc=False):
    """A value with a sign before it."""

    sign: str
    value: Value


class Chain(SyntaxNode, frozen=True, gc=False):
    """Values joined by + and -, or by * and /: ``operators[i]`` stands before ``values[i + 1]``."""

    values: tuple[Value, ...]
    operators: tuple[Token, ...]


class Grouped(SyntaxNode, frozen=True, gc=False):
    """A value in brackets."""

    value: Value


Value: TypeAlias = Quantity | Name | Signed | Chain | Grouped
FeedRef: TypeAlias = Name | Mirrored


class Words(SyntaxNode, frozen=True, gc=False):
    """Words about the court."""

    words: tuple[Token, ...]

    @property
    def text(self) -> str:
        """In small letters, single spaces between."""
        return " ".join(" ".join(self.words).lower().split())


class PlacePart(SyntaxNode, frozen=True, gc=False):
    """One part of a place: a distance (or none) and words about the court."""

    distance: Value | None
    words: Words


class Place(SyntaxNode, frozen=True, gc=False):
    """A place in words."""

    parts: tuple[PlacePart, ...]


class PlaceAt(SyntaxNode, frozen=True, gc=False):
    """A place in metres: towards the ad side, and from the net."""

    x: Value
    y: Value
