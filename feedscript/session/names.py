"""Where the names of players stand in a journal, and how one is taken out.

A name stands in columns of its own, in lists of players, and may stand in any words that a coach
wrote: a title, a call, the name of a feed, the file's own name. Every text in every table is looked
at, so a table that is added later is covered too.
"""

from __future__ import annotations

import re
import sqlite3
import unicodedata
from collections import Counter
from collections.abc import Callable, Iterable, Iterator
from typing import Any

import msgspec

FORGOTTEN = "forgotten player"

#: Columns whose words are the program's own, whatever a player may be called ("Long", "Left").
_OWN_WORDS = frozenset(
    [("result", "result"), ("ball", "outcome"), ("session", "ending"), ("entry", "kind")]
)
_NAME_KEYS = frozenset(("player", "players", "name", "was", "joins", "leaves"))

Replace = Callable[[str], str]


def without_name(name: str, instead: str = FORGOTTEN) -> Replace:
    """What takes this name out of a text.

    Whole words only, in any case and in either form that Unicode has for an accented letter. A
    text that is one lower-case word is one of the program's own (``clay``, ``left``) unless it is
    the name to the letter. A single letter is no name: it is replaced where it stands alone, or
    at the beginning of a call for that player.
    """
    forms = {unicodedata.normalize(form, name) for form in ("NFC", "NFD")} | {name}
    either = "|".join(re.escape(form) for form in sorted(forms))
    if len(name) == 1:
        word = re.compile(rf"^(?:{either})(?= is on$| to |$)")
    else:
        word = re.compile(rf"(?<![^\W_])(?:{either})(?![^\W_])", re.IGNORECASE)

    def replace(text: str) -> str:
        if text not in forms and text.isalpha() and text.islower():
            return text
        return word.sub(lambda _: instead, text)

    return replace


def replace_everywhere(connection: sqlite3.Connection, replace: Replace) -> Counter[str]:
    """Put every text of every table through ``replace``; how many rows of each it changed."""
    changed: set[tuple[str, int]] = set()
    for table in _tables(connection):
        for column in _texts(connection, table):
            query = f"SELECT rowid, {column} FROM {table} WHERE {column} IS NOT NULL"
            for row_id, value in connection.execute(query).fetchall():
                new = _replaced(value, replace)
                if new != value:
                    update = f"UPDATE {table} SET {column} = ? WHERE rowid = ?"
                    connection.execute(update, (new, row_id))
                    changed.add((table, row_id))
    return Counter(table for table, _ in changed)


def _tables(connection: sqlite3.Connection) -> list[str]:
    rows = connection.execute("SELECT name FROM sqlite_master WHERE type = 'table'").fetchall()
    return [row[0] for row in rows if not row[0].startswith("sqlite_")]


def _texts(connection: sqlite3.Connection, table: str) -> list[str]:
    rows = connection.execute(f"PRAGMA table_info({table})").fetchall()
    texts = [row[1] for row in rows if row[2] in ("TEXT", "BLOB")]
    return [column for column in texts if (table, column) not in _OWN_WORDS]


def _replaced(value: Any, replace: Replace) -> Any:
    """The same text or JSON without the name, of the same type; a number is left as it is."""
    decoded = _decoded(value)
    if not isinstance(decoded, list | dict):
        return replace(value) if isinstance(value, str) else value
    scrubbed = _scrub(decoded, replace)
    if scrubbed == decoded:
        return value
    encoded = msgspec.json.encode(scrubbed)
    return encoded if isinstance(value, bytes) else encoded.decode()


def _scrub(value: Any, replace: Replace) -> Any:
    """Every text in a JSON value; keys are the program's own."""
    if isinstance(value, str):
        return replace(value)
    if isinstance(value, list):
        return [_scrub(item, replace) for item in value]
    if isinstance(value, dict):
        return {key: _scrub(item, replace) for key, item in value.items()}
    return value


def player_names(rows: Callable[[str], Iterable[Any]]) -> set[str]:
    """Every name of a player that stands anywhere in a journal; ``rows`` asks it."""
    names = {row[0] for row in rows("SELECT DISTINCT player FROM ball")}
    for group, plan in rows("SELECT group_json, plan FROM session"):
        names.update(_names(_decoded(group)))
        planned = _decoded(plan)
        if isinstance(planned, dict):
            names.update(_names(planned.get("group")))
    for (data,) in rows("SELECT data FROM entry"):
        names.update(_names(_decoded(data)))
    return {name for name in names if isinstance(name, str) and name.strip()} - {FORGOTTEN}


def _decoded(text: Any) -> Any:
    """What JSON says; None for anything else, which a damaged file may hold."""
    if not isinstance(text, str | bytes):
        return None
    try:
        return msgspec.json.decode(text)
    except (msgspec.DecodeError, UnicodeDecodeError):
        return None


def _names(value: Any) -> Iterator[str]:
    """Texts under keys that name players; a lone text in a list of players counts too."""
    if isinstance(value, list):
        for each in value:
            yield from _names(each)
    elif isinstance(value, dict):
        for key, inner in value.items():
            if key in _NAME_KEYS:
                texts = inner if isinstance(inner, list) else [inner]
                yield from (text for text in texts if isinstance(text, str))
            yield from _names(inner)
