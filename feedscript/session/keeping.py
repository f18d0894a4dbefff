"""What is kept of the people on court, and how it is copied or forgotten.

The journal holds names only where the coach wrote them, on this machine alone. Children's data:
keep little. Letters do as well as names, and a name can be taken out of every lesson at any time.
"""

from __future__ import annotations

import re
import sqlite3
from pathlib import Path
from typing import Any

import msgspec

from feedscript.diagnostics import FeedscriptError, Page
from feedscript.session.journal import JOURNAL_UNUSABLE, open_journal

FORGOTTEN = "forgotten player"

COPY_REFUSED = Page(
    slug="copy-refused",
    title="A copy of the journal is not written over another file",
    why="A backup that replaces what lies there could destroy the only other copy.",
)


def back_up(journal_path: Path, target: Path) -> None:
    """Write a whole, consistent copy of the journal to a new file, also while a lesson runs.

    Raises FeedscriptError when the target exists or cannot be written.
    """
    if target.exists():
        raise FeedscriptError(
            COPY_REFUSED.report(
                "the file exists already", device=str(target), help="name a file that does not"
            )
        )
    open_journal(journal_path).close()  # what is no journal is told apart before it is copied
    source = sqlite3.connect(journal_path)
    try:
        copy = sqlite3.connect(target)
        try:
            source.backup(copy)
        finally:
            copy.close()
    except sqlite3.Error as trouble:
        raise _unusable(target, trouble) from trouble
    finally:
        source.close()


def forget_player(journal_path: Path, name: str) -> int:
    """Take one player's name out of every lesson; the number of balls that carried it.

    The balls stay, as those of :data:`FORGOTTEN`. The old bytes are overwritten, not only
    unlinked. A plan that named the player no longer matches its certificate, so a lesson broken
    off with that player on the roster cannot be resumed afterwards.
    """
    open_journal(journal_path).close()
    connection = sqlite3.connect(journal_path, isolation_level=None)
    try:
        connection.execute("PRAGMA secure_delete = ON")
        connection.execute("BEGIN IMMEDIATE")
        changed = _replace(connection, name)
        connection.execute("COMMIT")
        connection.execute("VACUUM")
        connection.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    except sqlite3.Error as trouble:
        raise _unusable(journal_path, trouble) from trouble
    finally:
        connection.close()
    return changed


def _replace(connection: sqlite3.Connection, name: str) -> int:
    """Every place in the journal where a name may stand."""
    cursor = connection.execute("UPDATE ball SET player = ? WHERE player = ?", (FORGOTTEN, name))
    for table, column in (("session", "group_json"), ("session", "plan"), ("entry", "data")):
        for row_id, text in connection.execute(f"SELECT id, {column} FROM {table}").fetchall():
            without = _without(text, name)
            if without is not None:
                connection.execute(
                    f"UPDATE {table} SET {column} = ? WHERE id = ?", (without, row_id)
                )
    word = _word(name)
    for row_id, title in connection.execute("SELECT id, title FROM session").fetchall():
        if word.search(title):
            connection.execute(
                "UPDATE session SET title = ? WHERE id = ?", (word.sub(FORGOTTEN, title), row_id)
            )
    return cursor.rowcount


def _without(text: str | bytes, name: str) -> str | bytes | None:
    """The same JSON without the name, of the same type; None where it did not stand in it."""
    try:
        value = msgspec.json.decode(text)
    except msgspec.DecodeError:
        return None
    replaced = _scrub(value, _word(name))
    if replaced == value:
        return None
    encoded = msgspec.json.encode(replaced)
    return encoded if isinstance(text, bytes) else encoded.decode()


def _scrub(value: Any, word: re.Pattern[str]) -> Any:
    if isinstance(value, str):
        return word.sub(FORGOTTEN, value)
    if isinstance(value, list):
        return [_scrub(item, word) for item in value]
    if isinstance(value, dict):
        return {word.sub(FORGOTTEN, key): _scrub(item, word) for key, item in value.items()}
    return value


def _word(name: str) -> re.Pattern[str]:
    return re.compile(rf"(?<!\w){re.escape(name)}(?!\w)")


def _unusable(path: Path, trouble: sqlite3.Error) -> FeedscriptError:
    return FeedscriptError(
        JOURNAL_UNUSABLE.report(
            f"the journal cannot be used: {trouble}",
            device=str(path),
            help="end every other program that uses it, and see that the disk is not full",
        )
    )
