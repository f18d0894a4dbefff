"""The club's library. What stands here was released and is never changed."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0004"
down_revision = "0003"


def upgrade() -> None:
    op.create_table(
        "library_text",
        sa.Column("sha256", sa.String(64), nullable=False),
        sa.Column("text", sa.LargeBinary, nullable=False),
        sa.PrimaryKeyConstraint("sha256", name="pk_library_text"),
    )
    op.create_table(
        "library_change",
        sa.Column("number", sa.Integer, nullable=False, autoincrement=False),
        sa.Column("kind", sa.String(20), nullable=False),
        sa.Column("name", sa.String(60), nullable=False),
        sa.Column("sha256", sa.String(64), nullable=False),
        sa.Column("by", sa.Text, nullable=False),
        sa.Column("by_id", sa.String(32), nullable=False),
        sa.Column("utc_s", sa.Float(53), nullable=False),
        sa.Column("words", sa.Text, nullable=False),
        sa.Column("signature", sa.String(200), nullable=False),
        sa.PrimaryKeyConstraint("number", name="pk_library_change"),
        sa.ForeignKeyConstraint(
            ["sha256"], ["library_text.sha256"], name="fk_library_change_sha256"
        ),
    )
