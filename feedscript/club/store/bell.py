"""Who waits for news of the log is woken; what there is to read, the log alone says.

A ring may be missed, or come for nothing: whoever waits looks into the log afterwards in either
case, and again every :data:`POLL_S` without one.
"""

from __future__ import annotations

import threading
import time
from contextlib import suppress
from typing import Any

import psycopg
from sqlalchemy import Connection, Engine, text
from sqlalchemy.exc import SQLAlchemyError

from feedscript.override import override

POLL_S = 1.0
#: PostgreSQL's names for our news: events in the log, and STOPs.
EVENTS_CHANNEL = "feedscript_club"
STOPS_CHANNEL = "feedscript_club_stops"


class Bell:
    """Rung inside this process; one process is all that SQLite is meant for."""

    def __init__(self) -> None:
        self._rung = threading.Event()

    def ring_within(self, connection: Connection) -> None:
        """Ring when this transaction commits, where the database can."""

    def ring(self) -> None:
        """Ring now; after a commit."""
        self._rung.set()

    def wait(self, most_s: float = POLL_S) -> None:
        """Until it rings, at most so long. For one who waits."""
        self._rung.wait(most_s)
        self._rung.clear()

    def close(self) -> None:
        """Whoever waits is let go."""
        self._rung.set()


class PostgresBell(Bell):
    """Rung by PostgreSQL in every process, at the commit."""

    def __init__(self, engine: Engine, channel: str) -> None:
        super().__init__()
        self._engine = engine
        self._channel = channel
        self._listening: psycopg.Connection[Any] | None = None

    @override
    def ring_within(self, connection: Connection) -> None:
        connection.execute(text(f"NOTIFY {self._channel}"))

    @override
    def ring(self) -> None:
        """The commit has rung."""

    @override
    def wait(self, most_s: float = POLL_S) -> None:
        try:
            for _ in self._listener().notifies(timeout=most_s, stop_after=1):
                pass
        except (psycopg.Error, SQLAlchemyError):  # the poll goes on while there is no database
            self.close()
            time.sleep(most_s)

    def _listener(self) -> psycopg.Connection[Any]:
        if self._listening is None:
            made = self._engine.raw_connection()
            driver = made.driver_connection
            assert isinstance(driver, psycopg.Connection)
            made.detach()  # it goes back into no pool
            driver.autocommit = True
            driver.execute(f"LISTEN {self._channel}")
            self._listening = driver
        return self._listening

    @override
    def close(self) -> None:
        if self._listening is not None:
            with suppress(psycopg.Error):
                self._listening.close()
            self._listening = None
