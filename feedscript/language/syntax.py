"""Text to syntax tree, with every mistake in the writing reported."""

from __future__ import annotations

import msgspec

from feedscript.diagnostics import Diagnostic
from feedscript.language.by_blocks import Block, by_blocks
from feedscript.language.parse.source import Source
from feedscript.language.parse.tables import END
from feedscript.language.parse.token import Token
from feedscript.language.parse.tree import Tree
from feedscript.language.syntax_errors.damage import Damage
from feedscript.language.syntax_errors.recovery import MOST_REPAIRS, Reader
from feedscript.memo import Memo


class Parsed(msgspec.Struct, frozen=True):
    """A text's tree as far as it could be read, and what is wrong in the writing."""

    tree: Tree
    tokens: list[Token]  # those that are in the tree, in order
    diagnostics: tuple[Diagnostic, ...]
    damage: Damage


def parse(source: Source, memo: Memo | None = None) -> Parsed:
    """The syntax tree of a text. Never raises: whatever the text, there is a tree.

    With a ``memo`` a text is parsed once for all who ask, and of its blocks those that are new:
    what comes of it is not to be changed.
    """
    if memo is None:
        return _parsed(source)
    return memo.one("parsed", (source.name, source.text), lambda: _by_blocks(source, memo))


def _by_blocks(source: Source, memo: Memo) -> Parsed:
    found = by_blocks(source.text, memo, _block)
    return _parsed(source) if found is None else Parsed(*found, (), Damage())


def _block(text: str) -> Block | None:
    """A block that stands alone; None where anything is wrong with it."""
    reader = Reader(Source("", text))
    if reader.advance() is not None:
        return None
    return Block(reader.parser.finish().items, tuple(reader.seen))


def _parsed(source: Source) -> Parsed:
    reader = Reader(source)
    tree = reader.run()
    return Parsed(tree, reader.seen, tuple(reader.diagnostics), reader.damage)


class Ahead(msgspec.Struct, frozen=True):
    """What may be written at the end of a text that is not finished."""

    expected: tuple[str, ...]  # kinds of token
    block: str  # what the innermost block holds, as Stack.block says it
    tokens: list[Token]


def ahead(text: str) -> Ahead:
    """What may come next, for an editor to offer."""
    reader = Reader(Source("", text))
    while True:
        wrong = reader.advance()
        if wrong is None or wrong.type == END or reader.repaired >= MOST_REPAIRS:
            stack = reader.parser.stack()
            return Ahead(tuple(stack.expected()), stack.block(), reader.seen)
        reader.recover(wrong)
