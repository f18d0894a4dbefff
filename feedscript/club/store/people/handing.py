"""Which lessons of other courts concern the players of one."""

from __future__ import annotations

import msgspec
from sqlalchemy import Connection, select

from feedscript.club.store.log_tables import EVENT, LESSON
from feedscript.club.store.people.tables import LESSON_PLAYER


class Elsewhere(msgspec.Struct, frozen=True, kw_only=True):
    """A lesson of another court that has ended, and everybody whom it names."""

    host: str
    lesson: str
    held: int
    players: tuple[str, ...]


def elsewhere(connection: Connection, host: str) -> tuple[frozenset[str], list[Elsewhere]]:
    """The keys of the players whom a court's own real lessons name; and the lessons of other courts
    in which one of them is named, oldest first."""
    here = (LESSON.c.host == LESSON_PLAYER.c.host) & (LESSON.c.lesson == LESSON_PLAYER.c.lesson)
    own_query = (
        select(LESSON_PLAYER.c.player_key)
        .join(LESSON, here)
        .where(LESSON_PLAYER.c.host == host, LESSON.c.rehearsal.is_(False))
        .distinct()
    )
    own = frozenset(connection.scalars(own_query))
    ended = (
        (EVENT.c.host == LESSON.c.host)
        & (EVENT.c.lesson == LESSON.c.lesson)
        & (EVENT.c.number == LESSON.c.held)
        & (EVENT.c.kind == "ended")
    )
    query = (
        select(LESSON.c.host, LESSON.c.lesson, LESSON.c.held)
        .join(EVENT, ended)
        .join(LESSON_PLAYER, here)
        .where(
            LESSON.c.host != host,
            LESSON.c.rehearsal.is_(False),
            LESSON_PLAYER.c.player_key.in_(own_query),
        )
        .distinct()
        .order_by(LESSON.c.host, LESSON.c.lesson)
    )
    found = [
        Elsewhere(
            host=row.host,
            lesson=row.lesson,
            held=row.held,
            players=_players(connection, row.host, row.lesson),
        )
        for row in connection.execute(query)
    ]
    return own, found


def _players(connection: Connection, host: str, lesson: str) -> tuple[str, ...]:
    named = select(LESSON_PLAYER.c.player).where(
        LESSON_PLAYER.c.host == host, LESSON_PLAYER.c.lesson == lesson
    )
    return tuple(connection.scalars(named))
