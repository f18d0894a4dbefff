"""The open store: transactions, and one diagnostic for whatever the database says."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import Any

import platformdirs
import psycopg
from psycopg import sql
from sqlalchemy import Connection, Engine, text
from sqlalchemy.exc import SQLAlchemyError

from feedscript.club.refusals import STORE_UNUSABLE
from feedscript.club.store import library_tables, live_tables, log_tables, program_tables
from feedscript.club.store.bell import EVENTS_CHANNEL, STOPS_CHANNEL, Bell, PostgresBell
from feedscript.club.store.engine import READING, make_engine
from feedscript.club.store.migrate import migrate
from feedscript.club.store.people import tables as people_tables
from feedscript.club.store.recovering import wait_until_it_lets_in
from feedscript.club.store.tables import METADATA
from feedscript.diagnostics import FeedscriptError

#: Whoever goes over all tables, to forget or to sweep, goes over these, whatever else is imported.
ALL_TABLES = (library_tables, live_tables, log_tables, people_tables, program_tables)


class Store:
    """The open store; for as many threads as like. Methods raise FeedscriptError when the database
    refuses."""

    def __init__(self, engine: Engine, bell: Bell, stop_bell: Bell) -> None:
        self._engine = engine
        self.bell = bell
        self.stop_bell = stop_bell

    @contextmanager
    def writing(self) -> Iterator[Connection]:
        """One transaction: what is written inside is on the disk whole, or not at all."""
        with reported(self.name), self._engine.begin() as connection:
            yield connection

    @contextmanager
    def reading(self) -> Iterator[Connection]:
        """To read, beside whoever writes."""
        with reported(self.name), self._engine.connect() as connection:
            yield connection.execution_options(**{READING: True})

    def sweep(self) -> None:
        """Overwrite what changed and deleted rows left behind in the store's files.

        PostgreSQL keeps old bytes in its write-ahead log for as long as it is set to; the part of
        it that was written so far is ended, where its role may do that.
        """
        with reported(self.name):
            made = self._engine.raw_connection()
            try:
                driver = made.driver_connection
                if isinstance(driver, psycopg.Connection):
                    _sweep_postgres(driver)
                else:
                    assert isinstance(driver, sqlite3.Connection)
                    _sweep_sqlite(driver, self.name)
            finally:
                made.close()

    @property
    def name(self) -> str:
        """Where it lies; without a password."""
        return self._engine.url.render_as_string(hide_password=True)

    @property
    def of_several(self) -> bool:
        """Whether several server processes may have it open."""
        return self._engine.dialect.name == "postgresql"

    def try_out(self) -> None:
        """Raises FeedscriptError while it cannot be read."""
        with self.reading() as connection:
            connection.execute(text("SELECT 1"))

    def close(self) -> None:
        self.bell.close()
        self.stop_bell.close()
        self._engine.dispose()


def default_address() -> str:
    """One file beside this user's journal."""
    folder = platformdirs.user_data_path("feedscript", appauthor=False)
    return f"sqlite:///{folder / 'club.sqlite'}"


def open_store(
    address: str | Path, waiting: Callable[[str, float], None] = lambda _name, _most_s: None
) -> Store:
    """Open the store at ``sqlite:///FILE``, ``postgresql://...`` or a file's path; its tables are
    made, or brought to this version. A PostgreSQL that is about to let people in is waited for;
    ``waiting`` is told so, with its name and for how long at most.

    Raises FeedscriptError when it is no store, is newer than this version, or cannot be written.
    """
    address = f"sqlite:///{address}" if isinstance(address, Path) else address
    with reported(""):
        engine = make_engine(address)
    name = engine.url.render_as_string(hide_password=True)
    try:
        with reported(name):
            wait_until_it_lets_in(engine, lambda most_s: waiting(name, most_s))
            migrate(engine)
    except BaseException:
        engine.dispose()
        raise
    if engine.dialect.name == "postgresql":
        return Store(
            engine, PostgresBell(engine, EVENTS_CHANNEL), PostgresBell(engine, STOPS_CHANNEL)
        )
    return Store(engine, Bell(), Bell())


def _sweep_sqlite(driver: sqlite3.Connection, name: str) -> None:
    driver.execute("PRAGMA temp_store = MEMORY")  # no copy in the system's folder for such files
    driver.execute("VACUUM")
    if driver.execute("PRAGMA wal_checkpoint(TRUNCATE)").fetchone()[0]:
        raise FeedscriptError(
            STORE_UNUSABLE.report(
                "it is changed, but another program still has old pages of the store in use",
                device=name,
                help="end that program, then do the same again",
            )
        )


def _sweep_postgres(driver: psycopg.Connection[Any]) -> None:
    driver.rollback()
    driver.autocommit = True
    try:
        for table in METADATA.tables:
            # Written anew, and so are the samples that PostgreSQL keeps of its values.
            driver.execute(sql.SQL("VACUUM (FULL, ANALYZE) {}").format(sql.Identifier(table)))
        with suppress(psycopg.errors.InsufficientPrivilege):
            # What was written so far of the write-ahead log is then needed no more.
            driver.execute("SELECT pg_switch_wal()")
            driver.execute("CHECKPOINT")
    finally:
        driver.autocommit = False


@contextmanager
def reported(name: str) -> Iterator[None]:
    """Turn what the database or the file system says into the one diagnostic."""
    try:
        yield
    except (SQLAlchemyError, psycopg.Error, sqlite3.Error, OSError) as trouble:
        # SQLAlchemy's own words repeat the statement, and with it players' names.
        told = str(getattr(trouble, "orig", None) or getattr(trouble, "strerror", None) or "")
        told = told.strip().partition("\n")[0] or type(trouble).__name__
        raise FeedscriptError(
            STORE_UNUSABLE.report(
                f"the club's store cannot be used: {told}",
                device=name,
                help="see that the database runs, may be written and has room; the courts keep "
                "what they could not send",
            )
        ) from trouble
