"""What coaches write at their desks on the club's server, and what of it courts are to fetch.

Children's names may stand in all of these texts and names: who is forgotten is taken out of them
like out of every other (``people/forgotten.py``). So a name is no key here, and no hash is kept.
"""

from __future__ import annotations

from sqlalchemy import (
    BigInteger,
    Column,
    Float,
    ForeignKey,
    Index,
    Integer,
    String,
    Table,
    Text,
)

from feedscript.club.store.tables import METADATA

#: A coach's program as it stands.
PROGRAM = Table(
    "program",
    METADATA,
    Column("id", String(32), primary_key=True),
    Column("person", String(32), ForeignKey("person.id"), nullable=False),
    Column("name", Text, nullable=False),
    Column("words", Text, nullable=False),
    Index(None, "person"),
)

#: Every version that was saved of it, within bounds.
PROGRAM_VERSION = Table(
    "program_version",
    METADATA,
    Column(
        "seq",
        BigInteger().with_variant(Integer(), "sqlite"),
        primary_key=True,
        autoincrement=True,
    ),
    Column("program", String(32), ForeignKey("program.id"), nullable=False),
    Column("words", Text, nullable=False),
    Column("saved_utc_s", Float(53), nullable=False),
    Index(None, "program"),
    sqlite_autoincrement=True,
)

#: A program handed to a court, in the words that it had then.
HANDED_PROGRAM = Table(
    "handed_program",
    METADATA,
    Column("id", String(32), primary_key=True),
    Column("host", String(32), ForeignKey("host.id"), nullable=False),
    Column("person", String(32), ForeignKey("person.id"), nullable=False),
    Column("name", Text, nullable=False),
    Column("words", Text, nullable=False),
    Column("handed_utc_s", Float(53), nullable=False),
    Index(None, "host"),
    Index(None, "person"),
)
