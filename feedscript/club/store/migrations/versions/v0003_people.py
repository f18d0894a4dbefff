"""People: accounts, groups, families' links, who read what, who is forgotten. What stands here was
released and is never changed."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0003"
down_revision = "0002"

_MOMENT = sa.Float(53)


def upgrade() -> None:
    _accounts()
    _signed_in()
    _groups()
    _players_of_lessons()
    _families()
    _audit()
    _forgotten()


def _needed(name: str, kind: object) -> sa.Column[object]:
    return sa.Column(name, kind, nullable=False)  # type: ignore[arg-type]


def _counted() -> sa.Column[object]:
    counted = sa.BigInteger().with_variant(sa.Integer(), "sqlite")
    return sa.Column("seq", counted, autoincrement=True, nullable=False)


def _reference(table: str, column: str, to: str) -> sa.ForeignKeyConstraint:
    return sa.ForeignKeyConstraint([column], [f"{to}.id"], name=f"fk_{table}_{column}")


def _accounts() -> None:
    op.create_table(
        "person",
        _needed("id", sa.String(32)),
        _needed("login", sa.String(80)),
        _needed("name", sa.String(80)),
        _needed("role", sa.String(20)),
        sa.Column("password", sa.String(200)),
        _needed("made_utc_s", _MOMENT),
        sa.Column("withdrawn_utc_s", _MOMENT),
        sa.PrimaryKeyConstraint("id", name="pk_person"),
        sa.UniqueConstraint("login", name="uq_person_login"),
    )
    op.create_table(
        "invitation",
        _needed("code_sha256", sa.String(64)),
        _needed("person", sa.String(32)),
        _needed("until_utc_s", _MOMENT),
        sa.PrimaryKeyConstraint("code_sha256", name="pk_invitation"),
        _reference("invitation", "person", "person"),
    )


def _signed_in() -> None:
    op.create_table(
        "sign_in",
        _needed("token_sha256", sa.String(64)),
        _needed("person", sa.String(32)),
        _needed("begun_utc_s", _MOMENT),
        _needed("until_utc_s", _MOMENT),
        sa.PrimaryKeyConstraint("token_sha256", name="pk_sign_in"),
        _reference("sign_in", "person", "person"),
    )
    op.create_index("ix_sign_in_person", "sign_in", ["person"])
    op.create_table(
        "device",
        _needed("token_sha256", sa.String(64)),
        _needed("person", sa.String(32)),
        _needed("until_utc_s", _MOMENT),
        sa.PrimaryKeyConstraint("token_sha256", name="pk_device"),
        _reference("device", "person", "person"),
    )
    op.create_table(
        "wrong_try",
        _counted(),
        _needed("about_sha256", sa.String(64)),
        _needed("utc_s", _MOMENT),
        sa.PrimaryKeyConstraint("seq", name="pk_wrong_try"),
        sqlite_autoincrement=True,
    )
    op.create_index("ix_wrong_try_about_sha256_utc_s", "wrong_try", ["about_sha256", "utc_s"])


def _groups() -> None:
    op.create_table(
        "player_group",
        _needed("id", sa.String(32)),
        _needed("name", sa.String(80)),
        sa.PrimaryKeyConstraint("id", name="pk_player_group"),
    )
    op.create_table(
        "group_player",
        _needed("player_group", sa.String(32)),
        _needed("player_key", sa.String(200)),
        _needed("player", sa.String(200)),
        sa.PrimaryKeyConstraint("player_group", "player_key", name="pk_group_player"),
        _reference("group_player", "player_group", "player_group"),
    )
    op.create_table(
        "group_coach",
        _needed("player_group", sa.String(32)),
        _needed("person", sa.String(32)),
        sa.PrimaryKeyConstraint("player_group", "person", name="pk_group_coach"),
        _reference("group_coach", "player_group", "player_group"),
        _reference("group_coach", "person", "person"),
    )


def _players_of_lessons() -> None:
    op.create_table(
        "lesson_player",
        _needed("host", sa.String(32)),
        _needed("lesson", sa.String(40)),
        _needed("player_key", sa.String(200)),
        _needed("player", sa.String(200)),
        sa.PrimaryKeyConstraint("host", "lesson", "player_key", name="pk_lesson_player"),
        sa.ForeignKeyConstraint(
            ["host", "lesson"],
            ["lesson.host", "lesson.lesson"],
            name="fk_lesson_player_host_lesson",
        ),
    )
    op.create_index("ix_lesson_player_player_key", "lesson_player", ["player_key"])


def _families() -> None:
    op.create_table(
        "family_link",
        _needed("id", sa.String(32)),
        _needed("token_sha256", sa.String(64)),
        _needed("player_key", sa.String(200)),
        _needed("player", sa.String(200)),
        _needed("made_by", sa.String(32)),
        _needed("made_utc_s", _MOMENT),
        _needed("until_utc_s", _MOMENT),
        sa.Column("withdrawn_utc_s", _MOMENT),
        sa.PrimaryKeyConstraint("id", name="pk_family_link"),
        sa.UniqueConstraint("token_sha256", name="uq_family_link_token_sha256"),
        _reference("family_link", "made_by", "person"),
    )


def _audit() -> None:
    op.create_table(
        "audit",
        _counted(),
        _needed("utc_s", _MOMENT),
        sa.Column("person", sa.String(32)),
        _needed("who", sa.String(200)),
        _needed("act", sa.String(40)),
        sa.Column("player_key", sa.String(200)),
        sa.Column("player", sa.String(200)),
        _needed("about", sa.Text),
        sa.PrimaryKeyConstraint("seq", name="pk_audit"),
        sqlite_autoincrement=True,
    )
    op.create_index("ix_audit_player_key", "audit", ["player_key"])


def _forgotten() -> None:
    op.create_table(
        "tombstone",
        _counted(),
        _needed("name_hash", sa.String(64)),
        _needed("words", sa.Integer),
        _needed("utc_s", _MOMENT),
        sa.PrimaryKeyConstraint("seq", name="pk_tombstone"),
        sqlite_autoincrement=True,
    )
    op.create_table(
        "obeyed",
        _needed("host", sa.String(32)),
        _needed("seq", sa.BigInteger),
        _needed("utc_s", _MOMENT),
        sa.PrimaryKeyConstraint("host", name="pk_obeyed"),
        _reference("obeyed", "host", "host"),
    )
    op.create_table(
        "setting",
        _needed("name", sa.String(40)),
        _needed("value", sa.String(200)),
        sa.PrimaryKeyConstraint("name", name="pk_setting"),
    )
