"""What every table of the club's store belongs to, and the courts' computers."""

from __future__ import annotations

from sqlalchemy import Column, Float, ForeignKey, MetaData, String, Table

METADATA = MetaData(
    naming_convention={
        "ix": "ix_%(table_name)s_%(column_0_N_name)s",
        "uq": "uq_%(table_name)s_%(column_0_N_name)s",
        "ck": "ck_%(table_name)s_%(constraint_name)s",
        "fk": "fk_%(table_name)s_%(column_0_N_name)s",
        "pk": "pk_%(table_name)s",
    }
)

#: A court's computer. Of its key only the hash is kept.
HOST = Table(
    "host",
    METADATA,
    Column("id", String(32), primary_key=True),
    Column("name", String(200), nullable=False),
    Column("key_sha256", String(64), nullable=False, unique=True),
    Column("joined_utc_s", Float(53), nullable=False),
    Column("withdrawn_utc_s", Float(53)),
)

#: A code by which one computer may join, once.
JOIN_CODE = Table(
    "join_code",
    METADATA,
    Column("code_sha256", String(64), primary_key=True),
    Column("until_utc_s", Float(53), nullable=False),
    Column("used_by", String(32), ForeignKey("host.id")),
)
