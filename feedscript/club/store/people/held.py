"""Which lessons somebody may review: the head coach all, a coach those in which a player of an own
group is named."""

from __future__ import annotations

import msgspec
from sqlalchemy import Connection, Select, select

from feedscript.club.store.log_tables import LESSON
from feedscript.club.store.people.tables import GROUP_COACH, GROUP_PLAYER, LESSON_PLAYER
from feedscript.club.store.tables import HOST
from feedscript.club.who import Person, Role


class Held(msgspec.Struct, frozen=True, kw_only=True):
    """A lesson; ``players`` are those whom it names, ``own`` those of them whose records the person
    may read."""

    host: str
    lesson: str
    court: str
    title: str
    begun_utc_s: float
    rehearsal: bool
    players: tuple[str, ...]
    own: tuple[str, ...]


def lessons_held(
    connection: Connection,
    person: Person,
    most: int,
    *,
    after: int = 0,
    title: str | None = None,
    before_utc_s: float | None = None,
) -> list[Held]:
    """The newest of them, after so many; of one title, and begun before a moment, if asked so."""
    query = _held(person).order_by(LESSON.c.begun_utc_s.desc(), LESSON.c.host, LESSON.c.lesson)
    if title is not None:
        query = query.where(LESSON.c.title == title)
    if before_utc_s is not None:
        query = query.where(LESSON.c.begun_utc_s < before_utc_s)
    return _read(connection, person, query.limit(most).offset(after))


def lesson_held(connection: Connection, person: Person, host: str, lesson: str) -> Held | None:
    """One of them; None alike for one that is not there and for one that is not this person's."""
    of_lesson = (LESSON.c.host == host) & (LESSON.c.lesson == lesson)
    return next(iter(_read(connection, person, _held(person).where(of_lesson))), None)


def _held(person: Person) -> Select[tuple[str, str, str, float, bool, str]]:
    query = (
        select(
            LESSON.c.host,
            LESSON.c.lesson,
            LESSON.c.title,
            LESSON.c.begun_utc_s,
            LESSON.c.rehearsal,
            HOST.c.name,
        )
        .join(HOST, HOST.c.id == LESSON.c.host)
        .where(LESSON.c.plan != "")  # one that was thrown away by rule has none
    )
    if person.role is Role.HEAD_COACH:
        return query
    named = (
        select(LESSON_PLAYER.c.player_key)
        .where(
            LESSON_PLAYER.c.host == LESSON.c.host,
            LESSON_PLAYER.c.lesson == LESSON.c.lesson,
            LESSON_PLAYER.c.player_key.in_(_own(person)),
        )
        .exists()
    )
    return query.where(named)


def _own(person: Person) -> Select[tuple[str]]:
    """The keys of the players of a coach's own groups; nobody's for a viewer, who has none."""
    return (
        select(GROUP_PLAYER.c.player_key)
        .join(GROUP_COACH, GROUP_COACH.c.player_group == GROUP_PLAYER.c.player_group)
        .where(GROUP_COACH.c.person == (person.id if person.role is Role.COACH else ""))
    )


def _read(
    connection: Connection, person: Person, query: Select[tuple[str, str, str, float, bool, str]]
) -> list[Held]:
    own = frozenset(connection.scalars(_own(person)))
    everybody = person.role is Role.HEAD_COACH
    found = []
    for row in connection.execute(query).all():
        of_lesson = (LESSON_PLAYER.c.host == row.host) & (LESSON_PLAYER.c.lesson == row.lesson)
        named = connection.execute(
            select(LESSON_PLAYER).where(of_lesson).order_by(LESSON_PLAYER.c.player)
        ).all()
        found.append(
            Held(
                host=row.host,
                lesson=row.lesson,
                court=row.name,
                title=row.title,
                begun_utc_s=row.begun_utc_s,
                rehearsal=row.rehearsal,
                players=tuple(one.player for one in named),
                own=tuple(one.player for one in named if everybody or one.player_key in own),
            )
        )
    return found
