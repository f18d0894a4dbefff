"""Coaches' programs. What stands here was released and is never changed."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0005"
down_revision = "0004"

_COUNTED = sa.BigInteger().with_variant(sa.Integer(), "sqlite")


def upgrade() -> None:
    op.create_table(
        "program",
        sa.Column("id", sa.String(32), nullable=False),
        sa.Column("person", sa.String(32), nullable=False),
        sa.Column("name", sa.Text, nullable=False),
        sa.Column("words", sa.Text, nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_program"),
        sa.ForeignKeyConstraint(["person"], ["person.id"], name="fk_program_person"),
    )
    op.create_index("ix_program_person", "program", ["person"])
    op.create_table(
        "program_version",
        sa.Column("seq", _COUNTED, nullable=False, autoincrement=True),
        sa.Column("program", sa.String(32), nullable=False),
        sa.Column("words", sa.Text, nullable=False),
        sa.Column("saved_utc_s", sa.Float(53), nullable=False),
        sa.PrimaryKeyConstraint("seq", name="pk_program_version"),
        sa.ForeignKeyConstraint(["program"], ["program.id"], name="fk_program_version_program"),
        sqlite_autoincrement=True,
    )
    op.create_index("ix_program_version_program", "program_version", ["program"])
    op.create_table(
        "handed_program",
        sa.Column("id", sa.String(32), nullable=False),
        sa.Column("host", sa.String(32), nullable=False),
        sa.Column("person", sa.String(32), nullable=False),
        sa.Column("name", sa.Text, nullable=False),
        sa.Column("words", sa.Text, nullable=False),
        sa.Column("handed_utc_s", sa.Float(53), nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_handed_program"),
        sa.ForeignKeyConstraint(["host"], ["host.id"], name="fk_handed_program_host"),
        sa.ForeignKeyConstraint(["person"], ["person.id"], name="fk_handed_program_person"),
    )
    op.create_index("ix_handed_program_host", "handed_program", ["host"])
    op.create_index("ix_handed_program_person", "handed_program", ["person"])
