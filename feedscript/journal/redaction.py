"""Where the names of players stand in a journal, and how one is taken out.

A name stands in columns of its own, in lists of players, and may stand in any words that a coach
wrote: a title, a call, the name of a feed, the file's own name. Every text in every table is looked
at, so a table that is added later is covered too.

One rule says what is a name. A name is its words: capitals, the two forms that Unicode has for an
accented letter, and what stands between the words (a space, a hyphen, the underscore of a feed's
name) make no difference. Of several names that begin at the same word of a text the longest is
meant, so that "Ann Lee" is not "Ann". A single letter is no name: it is one only where it stands
alone, or at the beginning of a call for that player.
"""

from __future__ import annotations

import re
import sqlite3
import unicodedata
from collections import Counter
from collections.abc import Callable, Iterable, Iterator
from itertools import pairwise
from typing import Any, NamedTuple

import msgspec

FORGOTTEN = "forgotten player"

#: Columns whose words are the program's own, whatever a player may be called ("Long", "Left").
_OWN_WORDS = frozenset(
    (
        *(("result", "result"), ("ball", "outcome"), ("session", "ending"), ("entry", "kind")),
        *(("film", "made_by"), ("film", "sha256"), ("landing", "why")),
        *(("shot", "why"), ("shot", "result"), ("clip", "file")),
    )
)
_TEXT = ("TEXT", "BLOB")
_NAME_KEYS = frozenset(("player", "players", "name", "was", "joins", "leaves"))
#: Keys under which a coach's own words stand; a single word under any other is the program's own.
_COACH_KEYS = _NAME_KEYS | frozenset(
    (
        *("wish", "title", "text", "feed", "station", "lane", "label", "profile", "source"),
        *("message", "progression", "rungs"),
    )
)
#: What may stand between the words of one name.
_BETWEEN = re.compile(r"[\s_.'’\-]+")
_CALL = re.compile(r" is on$| to ")

Key = tuple[str, ...]
Replace = Callable[[str], str]


class _Word(NamedTuple):
    """One word of a text: what it is compared by, and where it stands."""

    key: str
    begin: int
    end: int


def name_key(name: str) -> Key:
    """What a name is compared by: two names of one key are one name."""
    return tuple(word.key for word in _words(name))


def _words(text: str) -> list[_Word]:
    """Runs of letters, digits and the marks that belong to them."""
    found, begin = [], None
    for at, letter in enumerate([*text, " "]):
        inside = letter.isalnum() or unicodedata.category(letter).startswith("M")
        if inside and begin is None:
            begin = at
        elif not inside and begin is not None:
            found.append(_Word(_plain(text[begin:at]), begin, at))
            begin = None
    return found


def _plain(word: str) -> str:
    composed = unicodedata.normalize("NFC", word).casefold()
    return unicodedata.normalize("NFC", composed)


def without_names(
    names: Iterable[str], instead: str = FORGOTTEN, *, known: Iterable[str] = ()
) -> Replace:
    """What takes these names out of a text; ``known`` are names that stay."""
    out = {name_key(name) for name in names} - {()}
    every = sorted({name_key(name) for name in known} | out, key=len, reverse=True)
    letters = {key[0] for key in out if _is_letter(key)}
    longer = [key for key in every if key and not _is_letter(key)]

    def replace(text: str) -> str:
        words = _words(text)
        if words and words[0].key in letters and _stands_for_a_player(text, words[0]):
            return text[: words[0].begin] + instead + text[words[0].end :]
        parts, at, done = [], 0, 0
        while at < len(words):
            key = _name_at(text, words, at, longer)
            if key in out:
                parts += [text[done : words[at].begin], instead]
                done = words[at + len(key) - 1].end
            at += len(key) or 1
        return "".join([*parts, text[done:]])

    return replace


def runs(text: str, lengths: Iterable[int]) -> Iterator[tuple[Key, str]]:
    """Every run of so many words that could be a name, with its key and as it is written."""
    words = _words(text)
    for length in lengths:
        for at in range(len(words) - length + 1):
            run = words[at : at + length]
            if _is_one_name(text, run):
                yield tuple(word.key for word in run), text[run[0].begin : run[-1].end]


def _is_one_name(text: str, run: list[_Word]) -> bool:
    """Whether nothing stands between these words that ends a name."""
    return all(_BETWEEN.fullmatch(text[one.end : two.begin]) for one, two in pairwise(run))


def _is_letter(key: Key) -> bool:
    return len(key) == 1 and len(key[0]) == 1


def _stands_for_a_player(text: str, word: _Word) -> bool:
    """A letter that is written as a capital, alone or at the beginning of a call."""
    rest = text[word.end :]
    written = text[word.begin : word.end]
    return word.begin == 0 and written.upper() == written and (not rest or bool(_CALL.match(rest)))


def _name_at(text: str, words: list[_Word], at: int, names: list[Key]) -> Key:
    """The longest of the names that begins at this word; nothing when none does."""
    for key in names:
        run = words[at : at + len(key)]
        if tuple(word.key for word in run) == key and _is_one_name(text, run):
            return key
    return ()


def replace_everywhere(connection: sqlite3.Connection, replace: Replace) -> Counter[str]:
    """Put every text of every table through ``replace``; how many rows of each it changed."""
    changed: set[tuple[str, int]] = set()
    for table, column in _everywhere(connection.execute):
        query = f"SELECT rowid, {column} FROM {table} WHERE {column} IS NOT NULL"
        for row_id, value in connection.execute(query).fetchall():
            new = replaced(value, replace)
            if new != value:
                update = f"UPDATE {table} SET {column} = ? WHERE rowid = ?"
                connection.execute(update, (new, row_id))
                changed.add((table, row_id))
    return Counter(table for table, _ in changed)


def _everywhere(rows: Callable[..., Iterable[Any]]) -> Iterator[tuple[str, str]]:
    """Every table and column in which a person's words may stand."""
    tables = [row[0] for row in rows("SELECT name FROM sqlite_master WHERE type = 'table'")]
    for table in tables:
        if not table.startswith("sqlite_"):
            columns = [row[1] for row in rows(f"PRAGMA table_info({table})") if row[2] in _TEXT]
            yield from ((table, one) for one in columns if (table, one) not in _OWN_WORDS)


def names_found(
    rows: Callable[..., Iterable[Any]], find: Callable[[str], Iterable[str]]
) -> set[str]:
    """Every name that ``find`` finds in any text of a journal; ``rows`` asks it."""
    found: set[str] = set()
    look = collecting(find, found)
    for table, column in list(_everywhere(rows)):
        for row in rows(f"SELECT {column} FROM {table} WHERE {column} IS NOT NULL"):
            replaced(row[0], look)
    return found


def collecting(find: Callable[[str], Iterable[str]], found: set[str]) -> Replace:
    """Takes the place of what replaces names, and only adds those that ``find`` finds."""

    def look(text: str) -> str:
        found.update(find(text))
        return text

    return look


def replaced(value: Any, replace: Replace) -> Any:
    """The same text or JSON without the name, of the same type; a number is left as it is."""
    decoded = _decoded(value)
    if not isinstance(decoded, list | dict):
        return replace(value) if isinstance(value, str) else value
    try:
        scrubbed = _scrub(decoded, replace, "")
    except RecursionError:  # nested as nothing of ours is: a text like any other
        return replace(value) if isinstance(value, str) else replace(value.decode()).encode()
    if scrubbed == decoded:
        return value
    encoded = msgspec.json.encode(scrubbed)
    return encoded if isinstance(value, bytes) else encoded.decode()


def _scrub(value: Any, replace: Replace, key: str) -> Any:
    """Every text in a JSON value, but for the program's own words; keys are the program's own."""
    if isinstance(value, str):
        return replace(value) if key in _COACH_KEYS or not value.isalnum() else value
    if isinstance(value, list):
        return [_scrub(item, replace, key) for item in value]
    if isinstance(value, dict):
        return {inner: _scrub(item, replace, inner) for inner, item in value.items()}
    return value


#: Where names stand; ``?1`` is a lesson's number, or nothing for all lessons.
_PLAYERS = "SELECT DISTINCT player FROM ball WHERE ?1 IS NULL OR session_id = ?1"
_GROUPS = "SELECT group_json, plan FROM session WHERE ?1 IS NULL OR id = ?1"
_HAPPENED = "SELECT data FROM entry WHERE ?1 IS NULL OR session_id = ?1"


def player_names(rows: Callable[..., Iterable[Any]], number: int | None = None) -> set[str]:
    """Every name of a player that stands anywhere in a journal, or in one lesson of it; ``rows``
    asks it."""
    names = {row[0] for row in rows(_PLAYERS, (number,))}
    for group, plan in rows(_GROUPS, (number,)):
        names.update(names_told(_decoded(group)))
        planned = _decoded(plan)
        if isinstance(planned, dict):
            names.update(names_told(planned.get("group")))
    for (data,) in rows(_HAPPENED, (number,)):
        names.update(names_told(_decoded(data)))
    return {name for name in names if isinstance(name, str) and name.strip()} - {FORGOTTEN}


def _decoded(text: Any) -> Any:
    """What JSON says; None for anything else, which a damaged file may hold."""
    if not isinstance(text, str | bytes):
        return None
    try:
        return msgspec.json.decode(text)
    except (msgspec.DecodeError, UnicodeDecodeError, RecursionError):
        return None


def names_told(value: Any) -> Iterator[str]:
    """Texts under keys that name players, in plain data; one in a list of players counts too."""
    if isinstance(value, list):
        for each in value:
            yield from names_told(each)
    elif isinstance(value, dict):
        for key, inner in value.items():
            if key in _NAME_KEYS:
                texts = inner if isinstance(inner, list) else [inner]
                yield from (text for text in texts if isinstance(text, str))
            yield from names_told(inner)
