"""The log: each lesson's head, and everything that happened in all lessons of all courts."""

from __future__ import annotations

from sqlalchemy import (
    BigInteger,
    Boolean,
    Column,
    Float,
    ForeignKey,
    ForeignKeyConstraint,
    Index,
    Integer,
    String,
    Table,
    Text,
    UniqueConstraint,
)

from feedscript.club.store.tables import METADATA

#: SQLite counts by itself only in a column of this very type.
_COUNTED = BigInteger().with_variant(Integer(), "sqlite")

#: ``held`` is the highest number of its events that the club has.
LESSON = Table(
    "lesson",
    METADATA,
    Column("host", String(32), ForeignKey("host.id"), primary_key=True),
    Column("lesson", String(40), primary_key=True),
    Column("held", Integer, nullable=False),
    Column("begun_utc_s", Float(53), nullable=False),
    Column("title", Text, nullable=False),
    Column("source", Text, nullable=False),
    Column("rehearsal", Boolean, nullable=False),
    Column("plan", Text, nullable=False),
    Column("profiles", Text, nullable=False),
    Column("group_json", Text, nullable=False),
    Column("event_format", Integer, nullable=False),
)

#: ``xact`` is the transaction that wrote the row, on PostgreSQL, and 0 on SQLite, where one writes
#: at a time and ``seq`` alone is the order of writing.
EVENT = Table(
    "event",
    METADATA,
    Column("seq", _COUNTED, primary_key=True, autoincrement=True),
    Column("host", String(32), nullable=False),
    Column("lesson", String(40), nullable=False),
    Column("number", Integer, nullable=False),
    Column("utc_s", Float(53), nullable=False),
    Column("kind", String(61), nullable=False),
    Column("launcher", Integer),
    Column("data", Text, nullable=False),
    Column("received_utc_s", Float(53), nullable=False),
    Column("xact", BigInteger, nullable=False),
    UniqueConstraint("host", "lesson", "number"),
    ForeignKeyConstraint(["host", "lesson"], ["lesson.host", "lesson.lesson"]),
    Index(None, "xact", "seq"),
    sqlite_autoincrement=True,
)
