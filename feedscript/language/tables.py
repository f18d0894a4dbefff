"""The parser: its tables read from beside the grammar, or built where they do not belong to it.

Building LALR tables takes about a tenth of a second, reading them a few milliseconds. The file of
tables names the grammar's hash and the version of lark that made it; unless both are those at hand
it is left alone and the tables are built anew, so a stale one is never used. ``python -m
feedscript.language.tables`` writes the file.
"""

from __future__ import annotations

import functools
import hashlib
import json
import re
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import lark
from lark.grammar import Rule
from lark.lexer import TerminalDef

from feedscript.language.builder import Builder

GRAMMAR_FILE = Path(__file__).with_name("grammar.lark")
TABLES_FILE = Path(__file__).with_name("grammar_tables.json")


class _AlwaysNames:
    """Lets a name be read wherever the parser stands, so that no keyword is cut out of one."""

    always_accept = ("NAME",)

    def process(self, stream: Iterator[lark.Token]) -> Iterator[lark.Token]:
        return stream


def grammar_text() -> str:
    """The grammar as lark reads it."""
    return GRAMMAR_FILE.read_text(encoding="utf-8")


def _stamp(grammar: str) -> dict[str, str]:
    return {"grammar": hashlib.sha256(grammar.encode()).hexdigest(), "lark": lark.__version__}


def _build(grammar: str, transformer: Builder | None) -> lark.Lark:
    return lark.Lark(
        grammar,
        parser="lalr",
        lexer="contextual",
        g_regex_flags=re.IGNORECASE,
        keep_all_tokens=True,
        maybe_placeholders=False,
        postlex=_AlwaysNames(),
        transformer=transformer,
    )


def generate() -> str:
    """The content of the file of tables for the grammar and the lark at hand."""
    grammar = grammar_text()
    data, memo = _build(grammar, None).memo_serialize([TerminalDef, Rule])
    kept = {**_stamp(grammar), "data": data, "memo": memo}
    return json.dumps(kept, sort_keys=True, separators=(",", ":"), default=_plain) + "\n"


def _plain(value: object) -> object:
    """Sets as sorted lists; what is handed over anew at loading is left out."""
    return sorted(value) if isinstance(value, set | frozenset) else None


def _numbered(data: dict[str, Any]) -> dict[str, Any]:
    """The tables with their whole-number keys, which JSON has turned into text."""
    table = data["parser"]["parser"]
    table["tokens"] = {int(key): name for key, name in table["tokens"].items()}
    table["states"] = {
        int(state): {int(key): action for key, action in row.items()}
        for state, row in table["states"].items()
    }
    return data


def _stored(grammar: str) -> dict[str, Any] | None:
    try:
        kept = json.loads(TABLES_FILE.read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return None
    stamp = _stamp(grammar)
    return kept if all(kept.get(key) == value for key, value in stamp.items()) else None


@functools.cache
def parser() -> lark.Lark:
    """The parser of the language; it builds the syntax tree as it goes."""
    grammar = grammar_text()
    kept = _stored(grammar)
    if kept is None:
        return _build(grammar, Builder())
    load: Callable[..., lark.Lark] = lark.Lark._load_from_dict
    return load(
        _numbered(kept["data"]),
        {int(key): entry for key, entry in kept["memo"].items()},
        postlex=_AlwaysNames(),
        transformer=Builder(),
    )


if __name__ == "__main__":
    TABLES_FILE.write_text(generate(), encoding="utf-8")
