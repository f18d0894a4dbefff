"""A text parsed block by block, so that of a changed text only the changed block is parsed.

A block of the top ends with its brace, and behind that nothing can come but the next one. So the
blocks of a text without mistakes are parsed each by itself, and put where they stand. Where any of
them has a mistake the whole text is parsed in one go: what a mistake is may lie in another block.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Mapping
from functools import partial
from typing import Any, TypeAlias

import msgspec

from feedscript.language.parse.token import Token
from feedscript.language.parse.tree import SyntaxNode, Tree
from feedscript.memo import Memo

#: Behind a closing brace and its remarks, where a line begins with the word of a block.
_NEXT = re.compile(
    r"\}(?:[ \t]*(?:#[^\n]*)?\n)+"
    r"(?=(?:feed|progression|pattern|lesson|season|expect|suits|court|balls|launcher|group|coach"
    r"|keep|target|let|allow|require)\b)",
    re.IGNORECASE,
)


class Block(msgspec.Struct, frozen=True):
    """Blocks of a text that stands alone: their nodes and tokens, counted from its beginning."""

    items: tuple[SyntaxNode, ...]
    tokens: tuple[Token, ...]

    def at(self, start: int) -> Block:
        """The same, where it begins at ``start`` of a longer text."""
        moved = {id(one): one.moved(start) for one in self.tokens}
        items = tuple(_moved(item, start, moved) for item in self.items)
        return Block(items, tuple(moved.values()))


#: Reads a text that stands alone; None where it has a mistake.
Read: TypeAlias = Callable[[str], Block | None]


def by_blocks(text: str, memo: Memo, read: Read) -> tuple[Tree, list[Token]] | None:
    """The tree and the tokens of a text; None where it is to be parsed in one go."""
    placed = list[Block]()
    for start, end in _blocks(text):
        words = text[start:end]
        one = memo.one("block", words, partial(read, words))
        if one is None:
            return None
        try:
            placed.append(memo.one("placed", (words, start), partial(one.at, start)))
        except RecursionError:  # nested deeper than anybody writes
            return None
    items = tuple(item for one in placed for item in one.items)
    tokens = [token for one in placed for token in one.tokens]
    start, end = (items[0].start, items[-1].end) if items else (0, 0)
    return Tree(start, end, items), tokens


def _blocks(text: str) -> Iterator[tuple[int, int]]:
    """Where each begins and ends."""
    start = 0
    for found in _NEXT.finditer(text):
        yield start, found.end()
        start = found.end()
    yield start, len(text)


#: What says nothing of its place.
_STAYS = frozenset((type(None), str, bool, int, float))


def _moved(value: Any, by: int, tokens: Mapping[int, Token]) -> Any:
    """A part of a tree, so much further on."""
    kind = type(value)
    if kind is Token:
        return tokens[id(value)]
    if kind is tuple:
        return tuple([_moved(part, by, tokens) for part in value]) if value else value
    if kind in _STAYS:
        return value
    start, end, *rest = msgspec.structs.astuple(value)
    return kind(start + by, end + by, *[_moved(part, by, tokens) for part in rest])
