"""STOPs, and when each court was heard. What stands here was released and is never changed."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0002"
down_revision = "0001"


def upgrade() -> None:
    op.create_table(
        "stop_order",
        sa.Column("id", sa.String(16), nullable=False),
        sa.Column("host", sa.String(32), nullable=False),
        sa.Column("asked_by", sa.Text, nullable=False),
        sa.Column("asked_utc_s", sa.Float(53), nullable=False),
        sa.Column("heard_utc_s", sa.Float(53)),
        sa.Column("ended_utc_s", sa.Float(53)),
        sa.Column("stopped", sa.Boolean),
        sa.Column("says", sa.Text, nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_stop_order"),
        sa.ForeignKeyConstraint(["host"], ["host.id"], name="fk_stop_order_host"),
    )
    op.create_index("ix_stop_order_asked_utc_s", "stop_order", ["asked_utc_s"])
    op.create_table(
        "presence",
        sa.Column("host", sa.String(32), nullable=False),
        sa.Column("heard_utc_s", sa.Float(53), nullable=False),
        sa.Column("lesson", sa.String(40)),
        sa.Column("waiting", sa.Integer, nullable=False),
        sa.PrimaryKeyConstraint("host", name="pk_presence"),
        sa.ForeignKeyConstraint(["host"], ["host.id"], name="fk_presence_host"),
    )
