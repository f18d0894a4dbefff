"""The journal's tables, how a file is told to be a journal, and the way from each older version.

A journal carries its version in ``PRAGMA user_version``. Each migration leads from one version to
the next; they run in one transaction, so a file is either as it was or wholly of the new version.
Nothing is written to a file before it is known to be a journal of a version that we know.
"""

from __future__ import annotations

import functools
import sqlite3
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

from feedscript.diagnostics import FeedscriptError, Page

#: Marks the file as ours among SQLite files (``PRAGMA application_id``): "fdsc" in ASCII.
APPLICATION_ID = int.from_bytes(b"fdsc", "big")
#: Marks a club's store, which may lie in the same folder: "fdcl" in ASCII.
CLUB_STORE_ID = int.from_bytes(b"fdcl", "big")

JOURNAL_UNUSABLE = Page(
    slug="journal-unusable",
    title="The journal cannot be written or read",
    why=(
        "Every ball is written down before the launcher is asked for it; without a journal that "
        "can be written, no ball is sent. The file may be on a full or read-only disk, in use by "
        "another program, damaged, of a newer version, changed by something else than feedscript, "
        "or no journal at all. A file that cannot be used is left as it is."
    ),
)

#: From version N to N + 1. What stands here was released and is never changed.
MIGRATIONS = (
    """
    CREATE TABLE session (
        id INTEGER PRIMARY KEY,
        token INTEGER NOT NULL,
        begun_utc_s REAL NOT NULL,
        ended_utc_s REAL,
        ending TEXT,
        title TEXT NOT NULL,
        source TEXT NOT NULL,
        rehearsal INTEGER NOT NULL,
        plan BLOB NOT NULL,
        profiles BLOB NOT NULL,
        group_json TEXT NOT NULL
    );
    CREATE TABLE ball (
        session_id INTEGER NOT NULL REFERENCES session(id),
        feed_id INTEGER NOT NULL,
        ball_no INTEGER NOT NULL,
        launcher INTEGER NOT NULL,
        feed TEXT NOT NULL,
        player TEXT,
        feed_index INTEGER NOT NULL,
        station TEXT NOT NULL,
        lane TEXT NOT NULL,
        number INTEGER NOT NULL,
        shown INTEGER NOT NULL,
        leave_at_device_s REAL NOT NULL,
        intent_utc_s REAL NOT NULL,
        outcome TEXT,
        outcome_utc_s REAL,
        left_device_s REAL,
        left_utc_s REAL,
        reason TEXT NOT NULL DEFAULT '',
        PRIMARY KEY (session_id, feed_id)
    );
    CREATE TABLE entry (
        id INTEGER PRIMARY KEY,
        session_id INTEGER NOT NULL REFERENCES session(id),
        utc_s REAL NOT NULL,
        kind TEXT NOT NULL,
        launcher INTEGER,
        data TEXT NOT NULL
    );
    CREATE INDEX entry_of_session ON entry (session_id, kind, id);
    CREATE TABLE result (
        id INTEGER PRIMARY KEY,
        session_id INTEGER NOT NULL REFERENCES session(id),
        feed_id INTEGER NOT NULL,
        result TEXT NOT NULL,
        utc_s REAL NOT NULL,
        taken_back INTEGER NOT NULL DEFAULT 0
    );
    CREATE INDEX result_of_session ON result (session_id, id);
    """,
    # Where a player's shot came down, in court axes, where somebody marked it.
    """
    ALTER TABLE result ADD COLUMN landing_x_m REAL;
    ALTER TABLE result ADD COLUMN landing_y_m REAL;
    """,
    # In which form a lesson's entries are all that happened in it; 0: they are not.
    """
    ALTER TABLE session ADD COLUMN event_format INTEGER NOT NULL DEFAULT 0;
    """,
    # What films told: each time one was looked over, where fed balls came down, what may have
    # become of players' shots, and which clips were kept of them.
    """
    CREATE TABLE film (
        id INTEGER PRIMARY KEY,
        session_id INTEGER NOT NULL REFERENCES session(id),
        utc_s REAL NOT NULL,
        made_by TEXT NOT NULL,
        sha256 TEXT NOT NULL
    );
    CREATE INDEX film_of_session ON film (session_id, id);
    CREATE TABLE landing (
        film_id INTEGER NOT NULL REFERENCES film(id),
        session_id INTEGER NOT NULL REFERENCES session(id),
        feed_id INTEGER NOT NULL,
        why TEXT NOT NULL,
        refused INTEGER NOT NULL,
        x_m REAL,
        y_m REAL,
        xx_m2 REAL,
        xy_m2 REAL,
        yy_m2 REAL,
        camera_xx_m2 REAL,
        camera_xy_m2 REAL,
        camera_yy_m2 REAL,
        speed_mps REAL,
        speed_sd_mps REAL,
        flight_s REAL,
        flight_sd_s REAL,
        PRIMARY KEY (film_id, feed_id)
    );
    CREATE INDEX landing_of_session ON landing (session_id, film_id);
    CREATE TABLE shot (
        film_id INTEGER NOT NULL REFERENCES film(id),
        session_id INTEGER NOT NULL REFERENCES session(id),
        feed_id INTEGER NOT NULL,
        why TEXT NOT NULL,
        result TEXT,
        sure REAL,
        x_m REAL,
        y_m REAL,
        xx_m2 REAL,
        xy_m2 REAL,
        yy_m2 REAL,
        PRIMARY KEY (film_id, feed_id)
    );
    CREATE INDEX shot_of_session ON shot (session_id, film_id);
    CREATE TABLE clip (
        session_id INTEGER NOT NULL REFERENCES session(id),
        feed_id INTEGER NOT NULL,
        file TEXT NOT NULL,
        utc_s REAL NOT NULL,
        PRIMARY KEY (session_id, feed_id, file)
    );
    """,
)

SCHEMA_VERSION = len(MIGRATIONS)

_TABLES = frozenset(("session", "ball", "entry", "result"))
#: Those that came later, by which a journal is not known.
_LATER_TABLES = frozenset(("film", "landing", "shot", "clip"))


def version_of(connection: sqlite3.Connection, name: str) -> int:
    """The journal's version, 0 for an empty file; writes nothing.

    Raises FeedscriptError for a newer journal and for a file that is none.
    """
    version = int(connection.execute("PRAGMA user_version").fetchone()[0])
    mark = int(connection.execute("PRAGMA application_id").fetchone()[0])
    tables = {row[0] for row in connection.execute("SELECT name FROM sqlite_master")}
    if not tables and version == 0 and mark == 0:
        return 0
    if mark not in (0, APPLICATION_ID) or not tables >= _TABLES or version < 1:
        raise _refused(name, "the file is a database of something else, no journal")
    if version > SCHEMA_VERSION:
        raise _refused(
            name,
            f"the journal is of version {version}; this feedscript knows up to {SCHEMA_VERSION}",
            help="use the newer feedscript that wrote it, or name another file with --journal",
        )
    foreign = next(_foreign(connection, version), None)
    if foreign is not None:
        raise _refused(
            name,
            f"the file {foreign}; feedscript writes it otherwise",
            help="keep the file as it is, and name another one with --journal",
        )
    return version


def _foreign(connection: sqlite3.Connection, version: int) -> Iterator[str]:
    """What is not of a journal of this version: triggers, views, tables that are programs, and
    tables or indexes of ours that are made otherwise. A plain table more does nothing."""
    ours = _objects(version)
    query = "SELECT type, name, tbl_name, sql FROM sqlite_master"
    for kind, name, table, made in connection.execute(query):
        words = " ".join(str(made).split())
        if (kind, name) in ours:
            if words != ours[kind, name]:
                yield f"makes the {kind} {name} in a way of its own"
        elif kind == "index" and made is None and table in _TABLES | _LATER_TABLES:
            continue  # SQLite's own, for a primary key
        elif kind != "table" or not words.upper().startswith("CREATE TABLE"):
            yield f"holds a {kind} {name}, which could do things of its own"
    for kind, name in ours:
        query = "SELECT COUNT(*) FROM sqlite_master WHERE type = ? AND name = ?"
        if not connection.execute(query, (kind, name)).fetchone()[0]:
            yield f"lacks the {kind} {name}"


@functools.cache
def _objects(version: int) -> dict[tuple[str, str], str]:
    """The statements by which SQLite remembers the tables and indexes of a version."""
    with closing(sqlite3.connect(":memory:")) as fresh:
        for number in range(version):
            fresh.executescript(MIGRATIONS[number])
        query = "SELECT type, name, sql FROM sqlite_master WHERE sql IS NOT NULL"
        return {(kind, name): " ".join(sql.split()) for kind, name, sql in fresh.execute(query)}


def is_another_file(path: Path) -> bool:
    """Whether a file says of itself that it is an SQLite file of something else. Raises OSError."""
    return _mark_of(path) not in (None, 0, APPLICATION_ID)


def is_club_store(path: Path) -> bool:
    """Whether a file says of itself that it is a club's store. Raises OSError."""
    return _mark_of(path) == CLUB_STORE_ID


def _mark_of(path: Path) -> int | None:
    """What a file says that it is; None where it is not SQLite's.

    Where it stands: "Database File Format" (SQLite's documentation), 1.3, offset 68.
    """
    with path.open("rb") as file:
        head = file.read(72)
    is_sqlite = head.startswith(b"SQLite format 3\0")
    return int.from_bytes(head[68:72], "big") if is_sqlite else None


def migrate(connection: sqlite3.Connection, name: str) -> None:
    """Bring the journal to this version, or make one in an empty file; inside one transaction.

    The connection must be in autocommit mode. Raises FeedscriptError as :func:`version_of` does.
    """
    connection.execute("BEGIN IMMEDIATE")  # two lessons that start at once make one schema
    try:
        for number in range(version_of(connection, name), SCHEMA_VERSION):
            for statement in MIGRATIONS[number].split(";"):
                connection.execute(statement)
            connection.execute(f"PRAGMA user_version = {number + 1}")
            connection.execute(f"PRAGMA application_id = {APPLICATION_ID}")
        connection.execute("COMMIT")
    except BaseException:
        connection.execute("ROLLBACK")
        raise


def _refused(name: str, message: str, help: str = "") -> FeedscriptError:
    return FeedscriptError(
        JOURNAL_UNUSABLE.report(
            message, device=name, help=help or "name another file with --journal"
        )
    )
