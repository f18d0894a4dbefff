"""The ways on from a syntax error."""

from __future__ import annotations

from typing import TypeAlias

import msgspec


class PutIn(msgspec.Struct, frozen=True):
    """Act as if a mark or word stood before the wrong token."""

    kind: str
    words: str


class ReadAs(msgspec.Struct, frozen=True):
    """Take the text from the wrong token up to ``end`` for a token of this kind."""

    kind: str
    words: str
    end: int


class ReadPreviousAs(msgspec.Struct, frozen=True):
    """Take the token before the wrong token for one of this kind."""

    kind: str


class TakeBack(msgspec.Struct, frozen=True):
    """Take back so many tokens, leave the first of them out, and read on behind it."""

    count: int


class StartOver(msgspec.Struct, frozen=True):
    """Take back so many tokens and read on from the last of them."""

    count: int


class PassOver(msgspec.Struct, frozen=True):
    """Leave the text from the wrong token up to ``end`` out."""

    end: int


class CloseBraces(msgspec.Struct, frozen=True):
    """Act as if so many braces were closed before the wrong token."""

    count: int


class DropStatement(msgspec.Struct, frozen=True):
    """Go on at the next statement."""


Repair: TypeAlias = (
    PutIn | ReadAs | ReadPreviousAs | TakeBack | StartOver | PassOver | CloseBraces | DropStatement
)
