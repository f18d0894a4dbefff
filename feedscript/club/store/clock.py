"""The time by the database's clock: several servers' own clocks may differ."""

from __future__ import annotations

from sqlalchemy import ColumnElement, Connection, Float, literal_column


def now_s(connection: Connection) -> ColumnElement[float]:
    """Seconds since 1970, UTC, now and not at the transaction's beginning."""
    if connection.dialect.name == "postgresql":
        return literal_column("extract(epoch from clock_timestamp())::float8", Float(53))
    return literal_column("(julianday('now') - 2440587.5) * 86400.0", Float(53))
