"""The courts' computers and the log. What stands here was released and is never changed."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0001"
down_revision = None


def upgrade() -> None:
    _hosts()
    _lessons()
    _events()


def _hosts() -> None:
    op.create_table(
        "host",
        sa.Column("id", sa.String(32), nullable=False),
        sa.Column("name", sa.String(200), nullable=False),
        sa.Column("key_sha256", sa.String(64), nullable=False),
        sa.Column("joined_utc_s", sa.Float(53), nullable=False),
        sa.Column("withdrawn_utc_s", sa.Float(53)),
        sa.PrimaryKeyConstraint("id", name="pk_host"),
        sa.UniqueConstraint("key_sha256", name="uq_host_key_sha256"),
    )
    op.create_table(
        "join_code",
        sa.Column("code_sha256", sa.String(64), nullable=False),
        sa.Column("until_utc_s", sa.Float(53), nullable=False),
        sa.Column("used_by", sa.String(32)),
        sa.PrimaryKeyConstraint("code_sha256", name="pk_join_code"),
        sa.ForeignKeyConstraint(["used_by"], ["host.id"], name="fk_join_code_used_by"),
    )


def _lessons() -> None:
    op.create_table(
        "lesson",
        sa.Column("host", sa.String(32), nullable=False),
        sa.Column("lesson", sa.String(40), nullable=False),
        sa.Column("held", sa.Integer, nullable=False),
        sa.Column("begun_utc_s", sa.Float(53), nullable=False),
        sa.Column("title", sa.Text, nullable=False),
        sa.Column("source", sa.Text, nullable=False),
        sa.Column("rehearsal", sa.Boolean, nullable=False),
        sa.Column("plan", sa.Text, nullable=False),
        sa.Column("profiles", sa.Text, nullable=False),
        sa.Column("group_json", sa.Text, nullable=False),
        sa.Column("event_format", sa.Integer, nullable=False),
        sa.PrimaryKeyConstraint("host", "lesson", name="pk_lesson"),
        sa.ForeignKeyConstraint(["host"], ["host.id"], name="fk_lesson_host"),
    )


def _events() -> None:
    counted = sa.BigInteger().with_variant(sa.Integer(), "sqlite")
    op.create_table(
        "event",
        sa.Column("seq", counted, autoincrement=True, nullable=False),
        sa.Column("host", sa.String(32), nullable=False),
        sa.Column("lesson", sa.String(40), nullable=False),
        sa.Column("number", sa.Integer, nullable=False),
        sa.Column("utc_s", sa.Float(53), nullable=False),
        sa.Column("kind", sa.String(61), nullable=False),
        sa.Column("launcher", sa.Integer),
        sa.Column("data", sa.Text, nullable=False),
        sa.Column("received_utc_s", sa.Float(53), nullable=False),
        sa.Column("xact", sa.BigInteger, nullable=False),
        sa.PrimaryKeyConstraint("seq", name="pk_event"),
        sa.UniqueConstraint("host", "lesson", "number", name="uq_event_host_lesson_number"),
        sa.ForeignKeyConstraint(
            ["host", "lesson"], ["lesson.host", "lesson.lesson"], name="fk_event_host_lesson"
        ),
        sqlite_autoincrement=True,
    )
    op.create_index("ix_event_xact_seq", "event", ["xact", "seq"])
