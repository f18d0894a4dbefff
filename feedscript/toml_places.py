"""Where each key of a TOML text stands, so that a diagnostic can point at it.

``tomllib`` gives values without places. This scan finds table headers and the keys at the start of
their lines, which is how a profile is written; what it does not see (keys of an inline table) is
pointed at through the nearest key around it.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Mapping

import msgspec

from feedscript.diagnostics import Span
from feedscript.tables import KeyPath

_HEADER = re.compile(r"\s*\[+\s*([\w\s.\"'-]+?)\s*\]+\s*(?:#.*)?$")
_KEY = re.compile(r"\s*([\w.\"'-]+(?:\s*\.\s*[\w\"'-]+)*)\s*=\s*")
_COMMENT = re.compile(r"""^((?:[^#"']|"[^"]*"|'[^']*')*)#.*$""")


class KeyPlace(msgspec.Struct, frozen=True):
    """The stretch of a key and of its value on the key's line."""

    key: Span
    value: Span


def key_places(text: str, source: str) -> Mapping[KeyPath, KeyPlace]:
    """Every key and table header of the text by its path; the first of two alike counts."""
    places: dict[KeyPath, KeyPlace] = {}
    entries = Counter[KeyPath]()
    table: KeyPath = ()
    closing: str | None = None
    for number, line in enumerate(text.split("\n"), start=1):
        if closing is not None:
            closing = None if closing in line else closing
            continue
        header = _HEADER.match(line)
        if header:
            table = _parts(header[1])
            span = Span(source, number, header.start(1) + 1, number, header.end(1) + 1)
            places.setdefault(table, KeyPlace(span, span))
            if line.lstrip().startswith("[["):  # the entries of a list count from 0
                entries[table] += 1
                table = (*table, str(entries[table] - 1))
                places[table] = KeyPlace(span, span)
            continue
        key = _KEY.match(line)
        if key:
            places.setdefault(table + _parts(key[1]), _place(line, number, key, source))
            closing = _left_open(line[key.end() :])
    return places


def span_of(places: Mapping[KeyPath, KeyPlace], path: KeyPath, source: str, *, value: bool) -> Span:
    """The place of a path, or of the nearest table around it, or the top of the text."""
    for length in range(len(path), 0, -1):
        found = places.get(path[:length])
        if found is not None:
            return found.value if value and length == len(path) else found.key
    return Span(source, 1, 1, 1, 1)


def _parts(dotted: str) -> KeyPath:
    return tuple(part.strip().strip("\"'") for part in dotted.split("."))


def _place(line: str, number: int, key: re.Match[str], source: str) -> KeyPlace:
    value = line[key.end() :].rstrip("\r")
    comment = _COMMENT.match(value)
    end = key.end() + len((comment[1] if comment else value).rstrip())
    return KeyPlace(
        Span(source, number, key.start(1) + 1, number, key.end(1) + 1),
        Span(source, number, key.end() + 1, number, max(end, key.end()) + 1),
    )


def _left_open(value: str) -> str | None:
    """The quotes that still close a string begun on this line, if any."""
    for quotes in ('"""', "'''"):
        if value.startswith(quotes) and value.count(quotes) == 1:
            return quotes
    return None
