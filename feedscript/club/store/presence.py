"""When each court was last heard by any server process, by the database's clock."""

from __future__ import annotations

from collections.abc import Mapping

import msgspec
from sqlalchemy import select
from sqlalchemy.dialects import postgresql, sqlite

from feedscript.club.messages import Alive
from feedscript.club.store.clock import now_s
from feedscript.club.store.live_tables import PRESENCE
from feedscript.club.store.store import Store
from feedscript.club.store.tables import HOST


class Seen(msgspec.Struct, frozen=True, kw_only=True):
    """A court of the club, and how long ago it was last heard; None for never."""

    host: str
    name: str
    age_s: float | None
    heard_utc_s: float
    said: Alive


def write(store: Store, heard: Mapping[str, tuple[float, Alive]]) -> None:
    """Write down by court how long ago it was heard, and what it said. What another process heard
    later stays."""
    if not heard:
        return
    with store.writing() as connection:
        on_postgres = connection.dialect.name == "postgresql"
        insert = postgresql.insert(PRESENCE) if on_postgres else sqlite.insert(PRESENCE)
        now = connection.execute(select(now_s(connection))).scalar_one()
        connection.execute(
            insert.on_conflict_do_update(
                index_elements=[PRESENCE.c.host],
                set_={
                    "heard_utc_s": insert.excluded.heard_utc_s,
                    "lesson": insert.excluded.lesson,
                    "waiting": insert.excluded.waiting,
                },
                where=insert.excluded.heard_utc_s > PRESENCE.c.heard_utc_s,
            ),
            [
                {"host": host, "heard_utc_s": now - age_s, **msgspec.structs.asdict(said)}
                for host, (age_s, said) in sorted(heard.items())
            ],
        )


def read(store: Store) -> list[Seen]:
    """Every court that has joined and was not withdrawn, by name."""
    with store.reading() as connection:
        age_s = (now_s(connection) - PRESENCE.c.heard_utc_s).label("age_s")
        query = (
            select(HOST.c.id, HOST.c.name, PRESENCE, age_s)
            .outerjoin(PRESENCE, PRESENCE.c.host == HOST.c.id)
            .where(HOST.c.withdrawn_utc_s.is_(None))
            .order_by(HOST.c.name, HOST.c.id)
        )
        return [
            Seen(
                host=row["id"],
                name=row["name"],
                age_s=row["age_s"],
                heard_utc_s=row["heard_utc_s"] or 0.0,
                said=Alive(lesson=row["lesson"], waiting=row["waiting"] or 0),
            )
            for row in connection.execute(query).mappings()
        ]
