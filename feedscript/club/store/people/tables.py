"""Accounts and what they may see; which players are in which lesson; who read what; who is to be
forgotten.

A player is a name, by the project's one rule (``redaction.name_key``): two ways of writing one name
are one player, in the whole club. ``player_key`` is that key as one text.
"""

from __future__ import annotations

from sqlalchemy import (
    BigInteger,
    Column,
    Float,
    ForeignKey,
    ForeignKeyConstraint,
    Index,
    Integer,
    String,
    Table,
    Text,
)

from feedscript.club.store.tables import METADATA

_COUNTED = BigInteger().with_variant(Integer(), "sqlite")

#: Somebody with an account. ``password`` is a hash; null until an invitation was taken up.
PERSON = Table(
    "person",
    METADATA,
    Column("id", String(32), primary_key=True),
    Column("login", String(80), nullable=False, unique=True),
    Column("name", String(80), nullable=False),
    Column("role", String(20), nullable=False),
    Column("password", String(200)),
    Column("made_utc_s", Float(53), nullable=False),
    Column("withdrawn_utc_s", Float(53)),
)

#: A link by which a person chooses a password, once.
INVITATION = Table(
    "invitation",
    METADATA,
    Column("code_sha256", String(64), primary_key=True),
    Column("person", String(32), ForeignKey("person.id"), nullable=False),
    Column("until_utc_s", Float(53), nullable=False),
)

#: A browser in which a person is signed in.
SIGN_IN = Table(
    "sign_in",
    METADATA,
    Column("token_sha256", String(64), primary_key=True),
    Column("person", String(32), ForeignKey("person.id"), nullable=False),
    Column("begun_utc_s", Float(53), nullable=False),
    Column("until_utc_s", Float(53), nullable=False),
    Index(None, "person"),
)

#: A browser in which a person signed in once: wrong passwords from elsewhere do not lock it out.
DEVICE = Table(
    "device",
    METADATA,
    Column("token_sha256", String(64), primary_key=True),
    Column("person", String(32), ForeignKey("person.id"), nullable=False),
    Column("until_utc_s", Float(53), nullable=False),
)

#: A password that was wrong. ``about`` is the hash of whom or where it was tried.
WRONG_TRY = Table(
    "wrong_try",
    METADATA,
    Column("seq", _COUNTED, primary_key=True, autoincrement=True),
    Column("about_sha256", String(64), nullable=False),
    Column("utc_s", Float(53), nullable=False),
    Index(None, "about_sha256", "utc_s"),
    sqlite_autoincrement=True,
)

PLAYER_GROUP = Table(
    "player_group",
    METADATA,
    Column("id", String(32), primary_key=True),
    Column("name", String(80), nullable=False),
)

GROUP_PLAYER = Table(
    "group_player",
    METADATA,
    Column("player_group", String(32), ForeignKey("player_group.id"), primary_key=True),
    Column("player_key", String(200), primary_key=True),
    Column("player", String(200), nullable=False),
)

GROUP_COACH = Table(
    "group_coach",
    METADATA,
    Column("player_group", String(32), ForeignKey("player_group.id"), primary_key=True),
    Column("person", String(32), ForeignKey("person.id"), primary_key=True),
)

#: Who is named in which lesson; written with the events.
LESSON_PLAYER = Table(
    "lesson_player",
    METADATA,
    Column("host", String(32), primary_key=True),
    Column("lesson", String(40), primary_key=True),
    Column("player_key", String(200), primary_key=True),
    Column("player", String(200), nullable=False),
    ForeignKeyConstraint(["host", "lesson"], ["lesson.host", "lesson.lesson"]),
    Index(None, "player_key"),
)

#: A link by which a family reads one player's page.
FAMILY_LINK = Table(
    "family_link",
    METADATA,
    Column("id", String(32), primary_key=True),
    Column("token_sha256", String(64), nullable=False, unique=True),
    Column("player_key", String(200), nullable=False),
    Column("player", String(200), nullable=False),
    Column("made_by", String(32), ForeignKey("person.id"), nullable=False),
    Column("made_utc_s", Float(53), nullable=False),
    Column("until_utc_s", Float(53), nullable=False),
    Column("withdrawn_utc_s", Float(53)),
)

#: Who did what, and who read what of whom. ``person`` is null for a family and for a court.
AUDIT = Table(
    "audit",
    METADATA,
    Column("seq", _COUNTED, primary_key=True, autoincrement=True),
    Column("utc_s", Float(53), nullable=False),
    Column("person", String(32)),
    Column("who", String(200), nullable=False),
    Column("act", String(40), nullable=False),
    Column("player_key", String(200)),
    Column("player", String(200)),
    Column("about", Text, nullable=False),
    Index(None, "player_key"),
    sqlite_autoincrement=True,
)

#: A player who is forgotten: a keyed hash of the name, and how many words it has; never the name.
TOMBSTONE = Table(
    "tombstone",
    METADATA,
    Column("seq", _COUNTED, primary_key=True, autoincrement=True),
    Column("name_hash", String(64), nullable=False),
    Column("words", Integer, nullable=False),
    Column("utc_s", Float(53), nullable=False),
    sqlite_autoincrement=True,
)

#: Up to which tombstone a court's computer has obeyed.
OBEYED = Table(
    "obeyed",
    METADATA,
    Column("host", String(32), ForeignKey("host.id"), primary_key=True),
    Column("seq", BigInteger, nullable=False),
    Column("utc_s", Float(53), nullable=False),
)

#: Numbers and keys of the club itself.
SETTING = Table(
    "setting",
    METADATA,
    Column("name", String(40), primary_key=True),
    Column("value", String(200), nullable=False),
)
