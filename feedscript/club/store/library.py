"""The library's record and texts in the store."""

from __future__ import annotations

from collections.abc import Callable, Sequence

import msgspec
from sqlalchemy import Connection, insert, select, text
from sqlalchemy.dialects import postgresql, sqlite

from feedscript.club.store.library_tables import LIBRARY_CHANGE, LIBRARY_TEXT
from feedscript.club.store.store import Store
from feedscript.club_library import Change


def changes(store: Store) -> tuple[Change, ...]:
    """The whole record, in order."""
    with store.reading() as connection:
        return _changes(connection)


def text_of(store: Store, sha256: str) -> bytes | None:
    """A text, as it was added."""
    query = select(LIBRARY_TEXT.c.text).where(LIBRARY_TEXT.c.sha256 == sha256)
    with store.reading() as connection:
        return connection.execute(query).scalar_one_or_none()


def append(
    store: Store, make: Callable[[Sequence[Change]], Change], content: bytes | None = None
) -> Change:
    """Write down the change that ``make`` makes of the record as it stands, which nobody else
    changes meanwhile; with the text that it adds, if it adds one. ``make`` may raise."""
    with store.writing() as connection:
        if connection.dialect.name == "postgresql":
            connection.execute(text("LOCK TABLE library_change IN EXCLUSIVE MODE"))
        change = make(_changes(connection))
        if content is not None:
            _keep_text(connection, change.sha256, content)
        connection.execute(insert(LIBRARY_CHANGE), msgspec.structs.asdict(change))
    return change


def _keep_text(connection: Connection, sha256: str, content: bytes) -> None:
    """Two names may have one text."""
    on_postgres = connection.dialect.name == "postgresql"
    kept = postgresql.insert(LIBRARY_TEXT) if on_postgres else sqlite.insert(LIBRARY_TEXT)
    connection.execute(kept.on_conflict_do_nothing(), {"sha256": sha256, "text": content})


def _changes(connection: Connection) -> tuple[Change, ...]:
    rows = connection.execute(select(LIBRARY_CHANGE).order_by(LIBRARY_CHANGE.c.number)).mappings()
    fields = Change.__struct_fields__
    return tuple(msgspec.convert({name: row[name] for name in fields}, Change) for row in rows)
