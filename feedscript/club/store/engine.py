"""The two databases that a club's store may lie in, each set up so that what is committed stays."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from pathlib import Path
from typing import Any

from sqlalchemy import Connection, Engine, create_engine, event
from sqlalchemy.engine import URL, make_url
from sqlalchemy.exc import ArgumentError

from feedscript.club.refusals import STORE_UNUSABLE
from feedscript.diagnostics import FeedscriptError
from feedscript.host.private_file import make_private
from feedscript.journal.schema import CLUB_STORE_ID
from feedscript.plain_file import see_that_it_is_a_file

#: How long one who writes waits for another, s.
LOCK_WAIT_S = 10
#: The option by which a connection says that it only reads.
READING = "club_reading"


def make_engine(address: str) -> Engine:
    """An engine for ``sqlite:///FILE`` or ``postgresql://...``; nothing is connected yet.

    Raises FeedscriptError for any other address, OSError for a file that cannot be made.
    """
    try:
        url = make_url(address)
    except ArgumentError:
        raise _no_store(address) from None
    match url.get_backend_name():
        case "sqlite" if url.database and url.drivername == "sqlite":
            return _sqlite(url, Path(url.database))
        case "postgresql" if url.drivername in ("postgresql", "postgresql+psycopg"):
            return create_engine(
                url.set(drivername="postgresql+psycopg"), pool_pre_ping=True, pool_size=10
            )
    raise _no_store(address)


def _no_store(address: str) -> FeedscriptError:
    # The address may hold a password: it is not repeated.
    kind = address.partition(":")[0]
    return FeedscriptError(
        STORE_UNUSABLE.report(
            f"a store cannot lie at an address that begins with {kind!r}",
            help="name one such as --store sqlite:///club.sqlite or "
            "--store postgresql://name@machine/club",
        )
    )


def _sqlite(url: URL, path: Path) -> Engine:
    path.parent.mkdir(parents=True, exist_ok=True)
    make_private(path)  # children's names stand in it
    see_that_it_is_a_file(path)
    _see_that_it_may_be_ours(path)
    engine = create_engine(url, connect_args={"timeout": LOCK_WAIT_S})
    event.listen(engine, "connect", _set_up_sqlite)
    event.listen(engine, "begin", _begin)
    return engine


def _see_that_it_may_be_ours(path: Path) -> None:
    """Only then is anything written into it: how it is journalled stands in a file's head, too."""
    with closing(sqlite3.connect(f"{path.absolute().as_uri()}?mode=ro", uri=True)) as found:
        try:
            (mark,) = found.execute("PRAGMA application_id").fetchone()
            empty = found.execute("SELECT 1 FROM sqlite_master").fetchone() is None
        except sqlite3.DatabaseError as trouble:
            raise _not_ours(path, str(trouble)) from trouble
    if mark != CLUB_STORE_ID and not (mark == 0 and empty):
        raise _not_ours(path, "it is a database of something else")


def _not_ours(path: Path, why: str) -> FeedscriptError:
    return FeedscriptError(
        STORE_UNUSABLE.report(
            f"the file is no club's store: {why}",
            device=str(path),
            help="name another one with --store",
        )
    )


def _set_up_sqlite(connection: sqlite3.Connection, _record: Any) -> None:
    connection.isolation_level = None  # transactions begin where we say so
    for pragma in (
        "trusted_schema = OFF",
        "journal_mode = WAL",
        "synchronous = FULL",
        "foreign_keys = ON",
        "secure_delete = ON",
    ):
        connection.execute(f"PRAGMA {pragma}")


def _begin(connection: Connection) -> None:
    """Who writes takes the lock at once: what it read before cannot have changed meanwhile."""
    reading = connection.get_execution_options().get(READING, False)
    connection.exec_driver_sql("BEGIN" if reading else "BEGIN IMMEDIATE")
