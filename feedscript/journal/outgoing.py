"""What of a journal somebody else has not been told yet: entries in their order, by lesson.

A lesson's entries are never taken out one by one, so the place of one in its lesson stays.
"""

from __future__ import annotations

from collections.abc import Mapping

import msgspec

from feedscript.journal.store import Journal
from feedscript.journal.stored import EntryRow, believed


class Told(msgspec.Struct, frozen=True):
    """A lesson by its number and token, and how many entries it has."""

    session_id: int
    token: int
    entries: int


class Numbered(msgspec.Struct, frozen=True):
    """An entry, and the row that it is in the file."""

    row: int
    entry: EntryRow


def lessons_told(journal: Journal) -> tuple[Told, ...]:
    """Every lesson, oldest first."""
    rows = journal.rows(
        "SELECT id, token, (SELECT COUNT(*) FROM entry WHERE session_id = session.id) AS entries"
        " FROM session ORDER BY id"
    )
    return tuple(Told(row["id"], row["token"], row["entries"]) for row in rows)


def row_of(journal: Journal, session_id: int, number: int) -> int:
    """The row of a lesson's entry of this number, from 1; 0 where it has none."""
    rows = journal.rows(
        "SELECT id FROM entry WHERE session_id = ? ORDER BY +id LIMIT 1 OFFSET ?",
        (session_id, number - 1),
    )
    return int(rows[0]["id"]) if number > 0 and rows else 0


def entries_behind(journal: Journal, session_id: int, row: int, most: int) -> list[Numbered]:
    """A lesson's entries behind a row, at most so many."""
    rows = journal.rows(
        "SELECT * FROM entry WHERE session_id = ? AND +id > ? ORDER BY +id LIMIT ?",
        (session_id, row, most),
    )
    entries = believed(journal.path, session_id, rows, EntryRow)
    return [Numbered(one["id"], entry) for one, entry in zip(rows, entries, strict=True)]


def entry_at(journal: Journal, session_id: int, row: int) -> EntryRow | None:
    """The lesson's entry in this row of the file; None where there is none."""
    rows = journal.rows("SELECT * FROM entry WHERE session_id = ? AND id = ?", (session_id, row))
    return next(iter(believed(journal.path, session_id, rows, EntryRow)), None)


def grown_behind(journal: Journal, row: int) -> tuple[Mapping[int, int], int]:
    """How many entries came to which lessons behind a row; and the newest row of all."""
    rows = journal.rows(
        "SELECT session_id, COUNT(*) AS entries, MAX(id) AS newest FROM entry WHERE id > ?"
        " GROUP BY session_id",
        (row,),
    )
    grown = {one["session_id"]: one["entries"] for one in rows}
    return grown, max((one["newest"] for one in rows), default=row)


def changes_seen(journal: Journal) -> int:
    """Another number whenever somebody else has written to the file; costs next to nothing."""
    return int(journal.rows("PRAGMA data_version")[0][0])
