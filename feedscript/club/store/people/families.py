"""A family's link: read-only, one player, for a time, and withdrawn whenever somebody says so."""

from __future__ import annotations

import msgspec
from sqlalchemy import Connection, RowMapping, insert, select, update

from feedscript.club.store.people.audit import player_key
from feedscript.club.store.people.tables import FAMILY_LINK, PERSON
from feedscript.club.store.people.tokens import hash_of, new_id, new_token


class FamilyLink(msgspec.Struct, frozen=True, kw_only=True):
    """A link as those see it who may withdraw it; what opens the page is told once, when it is
    made."""

    id: str
    player: str
    made_by: str
    made_utc_s: float
    until_utc_s: float
    withdrawn_utc_s: float | None

    def stands(self, now_utc_s: float) -> bool:
        return self.withdrawn_utc_s is None and self.until_utc_s >= now_utc_s


def make(
    connection: Connection, player: str, made_by: str, now_utc_s: float, until_utc_s: float
) -> str:
    """A new link's token; it stands nowhere afterwards."""
    token = new_token()
    row = {
        "id": new_id(),
        "token_sha256": hash_of(token),
        "player_key": player_key(player),
        "player": player,
        "made_by": made_by,
        "made_utc_s": now_utc_s,
        "until_utc_s": until_utc_s,
    }
    connection.execute(insert(FAMILY_LINK), row)
    return token


_LINKS = select(FAMILY_LINK, PERSON.c.name.label("maker")).join(
    PERSON, PERSON.c.id == FAMILY_LINK.c.made_by
)


def _link(row: RowMapping) -> FamilyLink:
    return FamilyLink(
        id=row["id"],
        player=row["player"],
        made_by=row["maker"],
        made_utc_s=row["made_utc_s"],
        until_utc_s=row["until_utc_s"],
        withdrawn_utc_s=row["withdrawn_utc_s"],
    )


def opened(connection: Connection, token: str, now_utc_s: float) -> FamilyLink | None:
    """What this token opens; None for one that was withdrawn, is past its time, or never was."""
    query = _LINKS.where(FAMILY_LINK.c.token_sha256 == hash_of(token))
    row = connection.execute(query).mappings().first()
    found = None if row is None else _link(row)
    return found if found is not None and found.stands(now_utc_s) else None


def links_of(connection: Connection, player: str) -> list[FamilyLink]:
    """Every link to this player's page, the newest first."""
    query = _LINKS.where(FAMILY_LINK.c.player_key == player_key(player))
    rows = connection.execute(query.order_by(FAMILY_LINK.c.made_utc_s.desc())).mappings()
    return [_link(row) for row in rows]


def link_of(connection: Connection, link: str) -> FamilyLink | None:
    """The link of this id."""
    row = connection.execute(_LINKS.where(FAMILY_LINK.c.id == link)).mappings().first()
    return None if row is None else _link(row)


def withdraw(connection: Connection, link: str, now_utc_s: float) -> None:
    """It opens nothing any more."""
    gone = (FAMILY_LINK.c.id == link) & FAMILY_LINK.c.withdrawn_utc_s.is_(None)
    connection.execute(update(FAMILY_LINK).where(gone).values(withdrawn_utc_s=now_utc_s))
