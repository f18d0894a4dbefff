"""A forgotten player's name, known without being kept: a keyed hash, by which every court finds the
name in what it has, and the club in what still comes.

A hash of a name can be guessed by whoever has it and the club's key: it keeps the name from being
read, not from being tried.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterable
from functools import cached_property
from typing import Annotated

import msgspec

from feedscript.journal.redaction import Key, runs

#: Where a court's computer asks for them (GET), and says up to which it has obeyed (POST).
FORGOTTEN = "/api/hosts/forgotten"


class Tombstone(msgspec.Struct, frozen=True, kw_only=True):
    """One player who is forgotten. Numbers rise."""

    number: int
    name_hash: str
    words: int


class Tombstones(msgspec.Struct, frozen=True, kw_only=True, dict=True):
    """Those that a court has not obeyed yet, oldest first, and the club's key (in hex)."""

    key: str
    stones: tuple[Tombstone, ...] = ()

    @property
    def last(self) -> int:
        """The number up to which a court has obeyed that obeyed these; 0 for none."""
        return max((stone.number for stone in self.stones), default=0)

    @cached_property
    def _hashes(self) -> frozenset[str]:
        return frozenset(stone.name_hash for stone in self.stones)

    @cached_property
    def _lengths(self) -> tuple[int, ...]:
        return tuple(sorted({stone.words for stone in self.stones}))

    def names_in(self, text: str) -> Iterable[str]:
        """The forgotten names that stand in a text, as they are written there."""
        for key, written in runs(text, self._lengths):
            if name_hash(self.key, key) in self._hashes:
                yield written


class Obeyed(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """From a court: everything up to this number is forgotten there."""

    number: Annotated[int, msgspec.Meta(ge=0, le=2**53)]


def name_hash(key: str, name: Key) -> str:
    """BLAKE2b (RFC 7693) of a name, keyed by the club."""
    words = " ".join(name).encode()
    return hashlib.blake2b(words, key=bytes.fromhex(key), digest_size=32).hexdigest()
