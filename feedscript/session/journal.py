"""The journal: what was intended, what became of it, and everything that happened, on disk.

One SQLite file holds every lesson that ran on this machine. It is written in WAL mode with
``synchronous=FULL``: when a method returns, what it wrote has reached the disk and survives the
death of the process or of the machine. The intent stands in it before a launcher is asked for a
ball, so no ball can leave that the journal does not know.

The file is written by one thread at a time; :class:`Journal` itself takes no lock.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import msgspec
import platformdirs

from feedscript.diagnostics import FeedscriptError, Page
from feedscript.launcher.port import Outcome

SCHEMA_VERSION = 1

JOURNAL_UNUSABLE = Page(
    slug="journal-unusable",
    title="The journal cannot be written or read",
    why=(
        "Every ball is written down before the launcher is asked for it; without a journal that "
        "can be written, no ball is sent. The file may be on a full or read-only disk, may belong "
        "to a newer version, or may be no journal at all."
    ),
)

_SCHEMA = """
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
"""


class SessionStart(msgspec.Struct, frozen=True, kw_only=True):
    """What a lesson is, written once at its beginning."""

    token: int
    begun_utc_s: float
    title: str
    source: str
    rehearsal: bool
    plan: bytes  # canonical JSON
    profiles: bytes = b"[]"  # JSON list, one a launcher
    group_json: str


class BallIntent(msgspec.Struct, frozen=True, kw_only=True):
    """One ball that the launcher is about to be asked for."""

    feed_id: int
    ball_no: int
    launcher: int
    feed: str
    player: str | None
    leave_at_device_s: float
    intent_utc_s: float
    feed_index: int = 0  # into the plan's feeds
    station: str = ""
    lane: str = ""  # with ``number``: where in the course it stands
    number: int = 0
    shown: bool = False  # a ball to be watched with nobody in front


class BallOutcome(msgspec.Struct, frozen=True, kw_only=True):
    """What became of it; the times of leaving only where it left."""

    feed_id: int
    outcome: Outcome
    outcome_utc_s: float
    left_device_s: float | None = None
    left_utc_s: float | None = None
    reason: str = ""


def default_journal_path() -> Path:
    """Where the journal lies when no file is named: the user's data folder."""
    return platformdirs.user_data_path("feedscript", appauthor=False) / "journal.sqlite"


@contextmanager
def _reported(path: str) -> Iterator[None]:
    """Turn what SQLite or the file system says into the one diagnostic."""
    try:
        yield
    except (sqlite3.Error, OSError) as trouble:
        raise FeedscriptError(
            JOURNAL_UNUSABLE.report(
                f"the journal cannot be used: {trouble}",
                device=path,
                help="name another file with --journal, or free the disk, then run again",
            )
        ) from trouble


class Journal:
    """The open journal. Every method raises FeedscriptError when the disk refuses."""

    def __init__(self, connection: sqlite3.Connection, path: str) -> None:
        self._connection = connection
        self.path = path

    def close(self) -> None:
        with _reported(self.path):
            self._connection.close()

    def begin_session(self, start: SessionStart) -> int:
        """Write down a new lesson; its number in the journal."""
        row = msgspec.structs.asdict(start)
        return self._insert("session", row)

    def end_session(self, session_id: int, ending: str, utc_s: float) -> None:
        self._execute(
            "UPDATE session SET ending = ?, ended_utc_s = ? WHERE id = ?",
            (ending, utc_s, session_id),
        )

    def reopen_session(self, session_id: int) -> None:
        """The lesson goes on: it has no ending any more."""
        self._execute(
            "UPDATE session SET ending = NULL, ended_utc_s = NULL WHERE id = ?", (session_id,)
        )

    def intend(self, session_id: int, intent: BallIntent) -> None:
        """Write down a ball before it is asked for. A feed id cannot be written twice."""
        self._insert("ball", {"session_id": session_id, **msgspec.structs.asdict(intent)})

    def settle(self, session_id: int, outcome: BallOutcome) -> None:
        """Write down what became of a ball. A known outcome is never overwritten."""
        self._execute(
            "UPDATE ball SET outcome = :outcome, outcome_utc_s = :outcome_utc_s,"
            " left_device_s = :left_device_s, left_utc_s = :left_utc_s, reason = :reason"
            " WHERE session_id = :session_id AND feed_id = :feed_id"
            " AND (outcome IS NULL OR outcome = 'unknown')",
            {"session_id": session_id, **msgspec.structs.asdict(outcome)},
        )

    def note(
        self,
        session_id: int,
        utc_s: float,
        kind: str,
        data: Mapping[str, Any],
        launcher: int | None = None,
    ) -> None:
        """Write down one thing that happened."""
        self._insert(
            "entry",
            {
                "session_id": session_id,
                "utc_s": utc_s,
                "kind": kind,
                "launcher": launcher,
                "data": msgspec.json.encode(data).decode(),
            },
        )

    def record(self, session_id: int, feed_id: int, result: str, utc_s: float) -> None:
        """Write down what a player made of a ball."""
        self._insert(
            "result",
            {"session_id": session_id, "feed_id": feed_id, "result": result, "utc_s": utc_s},
        )

    def take_back(self, session_id: int, feed_id: int) -> None:
        """Undo a ball's record; it stays in the file, marked."""
        self._execute(
            "UPDATE result SET taken_back = 1 WHERE session_id = ? AND feed_id = ?",
            (session_id, feed_id),
        )

    def rows(self, query: str, values: tuple[Any, ...] = ()) -> list[sqlite3.Row]:
        """Read; for the modules that rebuild a lesson or report on it."""
        with _reported(self.path):
            return self._connection.execute(query, values).fetchall()

    def _insert(self, table: str, row: Mapping[str, Any]) -> int:
        columns = ", ".join(row)
        marks = ", ".join(f":{name}" for name in row)
        return self._execute(f"INSERT INTO {table} ({columns}) VALUES ({marks})", row)

    def _execute(self, statement: str, values: Mapping[str, Any] | tuple[Any, ...]) -> int:
        with _reported(self.path):
            cursor = self._connection.execute(statement, values)
            return cursor.lastrowid or 0


def open_journal(path: Path | None) -> Journal:
    """Open the journal at ``path``, made if it is not there; None keeps it in memory only.

    Raises FeedscriptError when the file is no journal, is newer than this version, or cannot be
    written.
    """
    name = ":memory:" if path is None else str(path)
    with _reported(name):
        if path is not None:
            path.parent.mkdir(parents=True, exist_ok=True)
        # Autocommit: each statement is its own transaction, on the disk when it returns.
        connection = sqlite3.connect(
            name, isolation_level=None, check_same_thread=False, timeout=5.0
        )
        try:
            _prepare(connection, name)
        except BaseException:
            connection.close()
            raise
    return Journal(connection, name)


def _prepare(connection: sqlite3.Connection, name: str) -> None:
    connection.row_factory = sqlite3.Row
    connection.execute("PRAGMA journal_mode = WAL")
    connection.execute("PRAGMA synchronous = FULL")
    connection.execute("PRAGMA foreign_keys = ON")
    connection.execute("BEGIN IMMEDIATE")  # two lessons that start at once make one schema
    version = connection.execute("PRAGMA user_version").fetchone()[0]
    if version == 0 and not connection.execute("SELECT name FROM sqlite_master").fetchall():
        for statement in _SCHEMA.split(";"):
            connection.execute(statement)
        connection.execute(f"PRAGMA user_version = {SCHEMA_VERSION}")
    elif version != SCHEMA_VERSION:
        connection.execute("ROLLBACK")
        raise FeedscriptError(
            JOURNAL_UNUSABLE.report(
                f"the file is no journal of version {SCHEMA_VERSION}: it says version {version}",
                device=name,
                help="name another file with --journal",
            )
        )
    connection.execute("COMMIT")
