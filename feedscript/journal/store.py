"""The journal: what was intended, what became of it, and everything that happened, on disk.

One SQLite file holds every lesson that ran on this machine. It is written in WAL mode with
``synchronous=FULL``: when a method returns, what it wrote has reached the disk and survives the
death of the process or of the machine. The intent stands in it before a launcher is asked for a
ball, so no ball can leave that the journal does not know.

The file is written by one thread at a time; :class:`Journal` itself takes no lock.
"""

from __future__ import annotations

import os
import sqlite3
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import msgspec
import platformdirs

from feedscript.diagnostics import FeedscriptError
from feedscript.host.private_file import keep_beside_private, make_private
from feedscript.journal.schema import JOURNAL_UNUSABLE, SCHEMA_VERSION, migrate, version_of
from feedscript.launcher.port import Outcome
from feedscript.plain_file import see_that_it_is_a_file
from feedscript.tongues.text import plain


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
    event_format: int = 0  # of its entries, where the lesson can be told from them alone


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


#: What SQLite puts beside a file in WAL mode, while it is open ("Write-Ahead Logging", sqlite.org,
#: section 4).
_BESIDE = ("-wal", "-shm")
#: No plan is longer, nor any word. Design value.
MOST_BYTES = 64_000_000
#: How long to wait for another program that is writing. Design value.
LOCK_WAIT_S = 5.0


def default_journal_path() -> Path:
    """Where the journal lies when no file is named: the user's data folder."""
    return platformdirs.user_data_path("feedscript", appauthor=False) / "journal.sqlite"


_DAMAGED = "malformed"

#: What SQLite says (a part of it), and the fix.
_FIXES = (
    ("locked", "another program is using it: end that lesson or command, then run this again"),
    ("readonly", "make the file and its folder writable, or name another file with --journal"),
    ("disk is full", "free the disk, then run this again"),
    ("not a database", "the file is no journal: name another one with --journal"),
    (
        _DAMAGED,
        "keep the damaged file as it is and go on with a new one (--journal NEW); the command "
        "`.recover` of SQLite's own shell may read what is left",
    ),
)


@contextmanager
def reported(path: str) -> Iterator[None]:
    """Turn what SQLite or the file system says into the one diagnostic."""
    try:
        yield
    # SQLite's own words about a damaged file may hold its damaged bytes.
    except (sqlite3.Error, OSError, UnicodeDecodeError) as trouble:
        told = _DAMAGED if isinstance(trouble, UnicodeDecodeError) else _words(trouble)
        fixes = (fix for part, fix in _FIXES if part in told)
        raise FeedscriptError(
            JOURNAL_UNUSABLE.report(
                f"the journal cannot be used: {told}",
                device=path,
                help=next(fixes, "name another file with --journal, or free the disk"),
            )
        ) from trouble


def _words(trouble: Exception) -> str:
    return getattr(trouble, "strerror", None) or str(trouble)


class Journal:
    """The open journal. Every method raises FeedscriptError when the disk refuses."""

    def __init__(self, connection: sqlite3.Connection, path: str) -> None:
        self._connection = connection
        self.path = path

    def close(self) -> None:
        with reported(self.path):
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
        data: Mapping[str, Any] | msgspec.Struct,
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
                "data": msgspec.json.encode(data, enc_hook=plain).decode(),
            },
        )

    def record(
        self,
        session_id: int,
        feed_id: int,
        result: str,
        utc_s: float,
        landing_m: tuple[float, float] | None = None,
    ) -> None:
        """Write down what a player made of a ball, and where it came down if that was marked."""
        row = {"session_id": session_id, "feed_id": feed_id, "result": result, "utc_s": utc_s}
        self._insert("result", row)
        if landing_m is not None:
            self.mark_landing(session_id, feed_id, landing_m)

    def mark_landing(self, session_id: int, feed_id: int, landing_m: tuple[float, float]) -> None:
        """Write down where the shot of a recorded ball came down."""
        self._execute(
            "UPDATE result SET landing_x_m = ?, landing_y_m = ?"
            " WHERE session_id = ? AND feed_id = ? AND taken_back = 0",
            (*landing_m, session_id, feed_id),
        )

    def take_back(self, session_id: int, feed_id: int) -> None:
        """Undo a ball's record; it stays in the file, marked."""
        self._execute(
            "UPDATE result SET taken_back = 1 WHERE session_id = ? AND feed_id = ?",
            (session_id, feed_id),
        )

    @contextmanager
    def together(self) -> Iterator[None]:
        """What is written inside is on the disk whole, or not at all."""
        with reported(self.path):
            self._connection.execute("BEGIN IMMEDIATE")
            try:
                yield
                self._connection.execute("COMMIT")
            except BaseException:
                self._connection.execute("ROLLBACK")
                raise

    def rows(
        self, query: str, values: Mapping[str, Any] | tuple[Any, ...] = ()
    ) -> list[sqlite3.Row]:
        """Read, as SQLite tells it; for the modules of the journal."""
        with reported(self.path):
            return self._connection.execute(query, values).fetchall()

    def write(self, table: str, row: Mapping[str, Any]) -> int:
        """Write one row more; its number. For the modules of the journal."""
        return self._insert(table, row)

    def copy_to(self, target: Path) -> None:
        """Write the whole journal into a new file and see that the copy is sound."""
        with reported(self.path):
            make_private(target)
            copy = _connect(str(target))
            try:
                self._connection.backup(copy)
                _see_that_it_is_sound(copy)
            finally:
                copy.close()

    @contextmanager
    def rewriting(self) -> Iterator[sqlite3.Connection]:
        """One transaction over what is written already; what it replaces is overwritten.

        A damaged journal is refused: rewriting it could lose what can still be read of it.
        """
        _see_that_it_is_sound(self._connection)
        self._connection.execute("PRAGMA secure_delete = ON")
        self._connection.execute("BEGIN IMMEDIATE")
        try:
            yield self._connection
            self._connection.execute("COMMIT")
        except BaseException:
            self._connection.execute("ROLLBACK")
            raise

    def _insert(self, table: str, row: Mapping[str, Any]) -> int:
        columns = ", ".join(row)
        marks = ", ".join(f":{name}" for name in row)
        return self._execute(f"INSERT INTO {table} ({columns}) VALUES ({marks})", row)

    def _execute(self, statement: str, values: Mapping[str, Any] | tuple[Any, ...]) -> int:
        with reported(self.path):
            cursor = self._connection.execute(statement, values)
            return cursor.lastrowid or 0


def _see_that_it_is_sound(connection: sqlite3.Connection) -> None:
    found = connection.execute("PRAGMA integrity_check").fetchone()[0]
    if found != "ok":
        raise sqlite3.DatabaseError(f"{_DAMAGED}: {found}")


def open_journal(path: Path | None) -> Journal:
    """Open the journal at ``path``, made if it is not there; None keeps it in memory only.

    Raises FeedscriptError when the file is no journal, is newer than this version, or cannot be
    written.
    """
    name = ":memory:" if path is None else str(path)
    with reported(name):
        if path is not None:
            path.parent.mkdir(parents=True, exist_ok=True)
            make_private(path)  # names of children stand in it
            see_that_it_is_a_file(path)
        connection = _connect(name)
        try:
            version_of(connection, name)  # before anything is written to it
            connection.execute("PRAGMA journal_mode = WAL")
            connection.execute("PRAGMA synchronous = FULL")
            connection.execute("PRAGMA foreign_keys = ON")
            migrate(connection, name)
            if path is not None:
                keep_beside_private(path, *_BESIDE)
        except BaseException:
            connection.close()
            raise
    return Journal(connection, name)


def read_journal(path: Path) -> Journal:
    """Open the journal at ``path`` only to read; the file is neither made nor changed.

    One of an older version is read as a copy in memory. Raises FeedscriptError as
    :func:`open_journal` does, and when the file is not there.
    """
    name = str(path)
    if not os.path.lexists(path):
        raise FeedscriptError(
            JOURNAL_UNUSABLE.report(
                "there is no journal at this place",
                device=name,
                help="run a lesson first, or rehearse one with --journal FILE, or name the file "
                "with --journal",
            )
        )
    with reported(name):
        see_that_it_is_a_file(path)
        connection = _connect_to_read(path)
        try:
            if version_of(connection, name) < SCHEMA_VERSION:
                connection = _newer_copy(connection, name)
        except BaseException:
            connection.close()
            raise
    return Journal(connection, name)


def _connect(name: str) -> sqlite3.Connection:
    # Autocommit: each statement is its own transaction, on the disk when it returns.
    connection = sqlite3.connect(
        name,
        isolation_level=None,
        check_same_thread=False,
        timeout=LOCK_WAIT_S,
        uri=name.startswith("file:"),
    )
    connection.row_factory = sqlite3.Row
    # The file may be anybody's ("Defense Against The Dark Arts", SQLite's documentation).
    connection.execute("PRAGMA trusted_schema = OFF")
    connection.execute("PRAGMA cell_size_check = ON")
    connection.setlimit(sqlite3.SQLITE_LIMIT_LENGTH, MOST_BYTES)
    return connection


def _connect_to_read(path: Path) -> sqlite3.Connection:
    """In a folder that may not be written SQLite reads a file only if told that nobody writes."""
    address = path.absolute().as_uri()
    connection = _connect(f"{address}?mode=ro")
    connection.execute("PRAGMA query_only = ON")
    try:
        connection.execute("SELECT name FROM sqlite_master").fetchall()
    except sqlite3.OperationalError:
        connection.close()
        if os.access(path.parent, os.W_OK) or path.with_name(f"{path.name}-wal").exists():
            raise
        return _connect(f"{address}?immutable=1")
    except BaseException:
        connection.close()
        raise
    return connection


def _newer_copy(connection: sqlite3.Connection, name: str) -> sqlite3.Connection:
    copy = _connect(":memory:")
    try:
        connection.backup(copy)
        migrate(copy, name)
    except BaseException:
        copy.close()
        raise
    connection.close()
    return copy
