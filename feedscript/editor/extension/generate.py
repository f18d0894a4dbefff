"""Writes the extension's colouring from the one grammar: ``python -m`` this module.

The TextMate grammar knows words, not structure; its lists of words come from the grammar's own.
"""

from __future__ import annotations

import json
import re
from pathlib import Path

from feedscript.language.parse.tables import Tables, tables

FILE = Path(__file__).parent / "syntaxes" / "feedscript.tmLanguage.json"


def _any_of(words: list[str]) -> str:
    longest_first = sorted(words, key=lambda word: (-len(word), word))
    return rf"(?i)(?<![\w-])(?:{'|'.join(map(re.escape, longest_first))})(?![\w-])"


def _plain(pattern: str) -> str:
    """A pattern of ours in the dialect of TextMate grammars, which has no fixed-width escapes."""
    return pattern.replace("\\u2019", "\u2019").replace("\\u201c", "\u201c")


def textmate(source: Tables) -> str:
    """The TextMate grammar as JSON text."""
    letters = [word for word in source.words if word[0].isalpha()]
    reserved = [word for word in letters if word in source.reserved]
    others = [word for word in letters if word not in source.reserved]
    patterns = source.patterns
    value = {
        "name": "feedscript",
        "scopeName": "source.feedscript",
        "fileTypes": ["feed"],
        "patterns": [
            {"name": "comment.line.number-sign.feedscript", "match": "#.*$"},
            {
                "name": "string.quoted.double.feedscript",
                "begin": '["\u201c\u201d\u201e]',
                "end": '["\u201c\u201d]|$',
                "patterns": [{"name": "constant.character.escape.feedscript", "match": r"\\."}],
            },
            {
                "match": rf"({_number()})\s*({_plain(patterns['UNIT'][0])})?",
                "captures": {
                    "1": {"name": "constant.numeric.feedscript"},
                    "2": {"name": "keyword.other.unit.feedscript"},
                },
            },
            {
                "match": r"(?i)\b(feed|pattern|let)\s+([^\W\d][\w-]*)",
                "captures": {
                    "1": {"name": "keyword.control.feedscript"},
                    "2": {"name": "entity.name.function.feedscript"},
                },
            },
            {"name": "keyword.control.feedscript", "match": _any_of(reserved)},
            {"name": "support.type.property-name.feedscript", "match": _any_of(others)},
            {
                "name": "support.constant.feedscript",
                "match": rf"(?i)(?<![\w-]){_plain(patterns['PLACE_WORD'][0])}",
            },
        ],
    }
    return json.dumps(value, indent=2, ensure_ascii=False) + "\n"


def _number() -> str:
    return r"(?<![\w.])(?:\d+(?:\.\d+)?|\.\d+)(?:[eE][+-]?\d+)?"


if __name__ == "__main__":
    FILE.write_text(textmate(tables()), encoding="utf-8")
