"""The parser's tables, as they lie beside the grammar that they were made from.

Nothing of the grammar is read at a start: ``feedscript.language.tools.parser_tables`` makes the
tables from it once, and a test says when they are stale.
"""

from __future__ import annotations

import functools
from pathlib import Path

import msgspec

TABLES_FILE = Path(__file__).with_name("grammar_tables.json")

END = "$END"


class Rule(msgspec.Struct, frozen=True, array_like=True, gc=False):
    """One rule of the grammar, as a reduction needs it.

    ``build`` names what makes its node; None for a list that grows in place. ``single``: a lone
    part stands for itself.
    """

    origin: str
    size: int
    build: str | None
    single: bool


class Tables(msgspec.Struct, frozen=True):
    """An LALR(1) parser. In ``actions[state][kind]`` n > 0 goes to state n - 1 and n < 0 reduces
    by ``rules[-n - 1]``."""

    start: int
    actions: list[dict[str, int]]
    rules: list[Rule]
    words: dict[str, str]  # each fixed word or mark -> its kind
    patterns: dict[str, tuple[str, int]]  # every other kind -> its pattern and priority
    reserved: frozenset[str]  # fixed words that can never be names


#: Made at import, where one thread is alone: msgspec works a type out at its first use, and two
#: checks that begin at the same time must not both do so.
_DECODER = msgspec.json.Decoder(Tables)


@functools.cache
def tables() -> Tables:
    """The tables of the language."""
    return _DECODER.decode(TABLES_FILE.read_bytes())
