"""The club's library: its texts, and the record of what was done with them."""

from __future__ import annotations

from sqlalchemy import Column, Float, ForeignKey, Integer, LargeBinary, String, Table, Text

from feedscript.club.store.tables import METADATA

LIBRARY_TEXT = Table(
    "library_text",
    METADATA,
    Column("sha256", String(64), primary_key=True),
    Column("text", LargeBinary, nullable=False),
)

#: Nothing here is ever changed or taken away; each row is signed as it is made.
LIBRARY_CHANGE = Table(
    "library_change",
    METADATA,
    Column("number", Integer, primary_key=True, autoincrement=False),
    Column("kind", String(20), nullable=False),
    Column("name", String(60), nullable=False),
    Column("sha256", String(64), ForeignKey("library_text.sha256"), nullable=False),
    Column("by", Text, nullable=False),
    Column("by_id", String(32), nullable=False),
    Column("utc_s", Float(53), nullable=False),
    Column("words", Text, nullable=False),
    Column("signature", String(200), nullable=False),
)
