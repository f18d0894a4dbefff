"""Who read what of whom, and who changed what: written before the answer goes out."""

from __future__ import annotations

from enum import StrEnum

import msgspec
from sqlalchemy import Connection, RowMapping, insert, select

from feedscript.club.store.people.tables import AUDIT
from feedscript.club.who import Person
from feedscript.journal.redaction import name_key


class Act(StrEnum):
    """What somebody did."""

    READ_RECORD = "read-record"
    READ_REVIEW = "read-review"  # of a lesson in which the player was
    READ_FAMILY_PAGE = "read-family-page"
    EXPORTED = "exported"
    FORGOT = "forgot"
    OBEYED = "obeyed"  # a court's computer forgot
    THREW_AWAY = "threw-away"
    LINKED_FAMILY = "linked-family"
    WITHDREW_LINK = "withdrew-link"
    INVITED = "invited"
    TOOK_UP = "took-up"
    WITHDREW = "withdrew"
    CHANGED_GROUP = "changed-group"
    SIGNED_IN = "signed-in"
    CHANGED_PASSWORD = "changed-password"
    SET_RULE = "set-rule"
    LET_IN = "let-in"  # a court's computer
    READ_AUDIT = "read-audit"
    HANDED_PROGRAM = "handed-program"  # to a court


class Entry(msgspec.Struct, frozen=True, kw_only=True):
    """One line of the log. ``person`` is None for a family and for a court."""

    seq: int
    utc_s: float
    person: str | None
    who: str
    act: Act
    player: str | None
    about: str


def player_key(player: str) -> str:
    """What a player is known by, as one text; "" for what is no name."""
    return " ".join(name_key(player))


def note(
    connection: Connection,
    now_utc_s: float,
    who: Person | str,
    act: Act,
    player: str | None = None,
    about: str = "",
) -> None:
    """Write down that this person (or a family, or a court, in words) did it."""
    row = {
        "utc_s": now_utc_s,
        "person": who.id if isinstance(who, Person) else None,
        "who": (who.name if isinstance(who, Person) else who)[:200],
        "act": str(act),
        "player": None if player is None else player[:200],
        "player_key": None if player is None else player_key(player)[:200],
        "about": about,
    }
    connection.execute(insert(AUDIT), row)


def _entry(row: RowMapping) -> Entry:
    return Entry(
        seq=row["seq"],
        utc_s=row["utc_s"],
        person=row["person"],
        who=row["who"],
        act=Act(row["act"]),
        player=row["player"],
        about=row["about"],
    )


def entries(
    connection: Connection,
    most: int,
    before: int | None = None,
    player: str | None = None,
    person: str | None = None,
) -> list[Entry]:
    """The newest first: those before a number, about one player, or of one person, as asked."""
    query = select(AUDIT).order_by(AUDIT.c.seq.desc()).limit(most)
    if before is not None:
        query = query.where(AUDIT.c.seq < before)
    if player is not None:
        query = query.where(AUDIT.c.player_key == player_key(player))
    if person is not None:
        query = query.where(AUDIT.c.person == person)
    return [_entry(row) for row in connection.execute(query).mappings()]
