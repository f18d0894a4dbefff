"""What server processes tell each other of courts that are live: STOPs, and who was heard."""

from __future__ import annotations

from sqlalchemy import Boolean, Column, Float, ForeignKey, Index, Integer, String, Table, Text

from feedscript.club.store.tables import METADATA

#: A STOP for a court: who asked for it, and how far it has come. It stays, as the record of it.
STOP_ORDER = Table(
    "stop_order",
    METADATA,
    Column("id", String(16), primary_key=True),
    Column("host", String(32), ForeignKey("host.id"), nullable=False),
    Column("asked_by", Text, nullable=False),
    Column("asked_utc_s", Float(53), nullable=False),
    Column("heard_utc_s", Float(53)),
    Column("ended_utc_s", Float(53)),
    Column("stopped", Boolean),
    Column("says", Text, nullable=False),
    Index(None, "asked_utc_s"),
)

#: When a court was last heard by any of the server processes.
PRESENCE = Table(
    "presence",
    METADATA,
    Column("host", String(32), ForeignKey("host.id"), primary_key=True),
    Column("heard_utc_s", Float(53), nullable=False),
    Column("lesson", String(40)),
    Column("waiting", Integer, nullable=False),
)
