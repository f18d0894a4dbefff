"""Groups: which players, and whose. What a coach sees hangs on them, so only the head coach changes
them."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

import msgspec
from sqlalchemy import Connection, delete, insert, select, update

from feedscript.club.store.people.audit import player_key
from feedscript.club.store.people.tables import (
    GROUP_COACH,
    GROUP_PLAYER,
    LESSON_PLAYER,
    PERSON,
    PLAYER_GROUP,
)
from feedscript.club.store.people.tokens import new_id
from feedscript.club.who import Person, Role


class Group(msgspec.Struct, frozen=True, kw_only=True):
    """A group with its players' names and its coaches, each by id and name."""

    id: str
    name: str
    players: tuple[str, ...] = ()
    coaches: tuple[tuple[str, str], ...] = ()


def save(
    connection: Connection,
    group: str | None,
    name: str,
    players: Iterable[str],
    coaches: Sequence[str],
) -> str:
    """Write a group as it is to be (a new one for None); its id. What is no name, and who has no
    account, is passed over."""
    if group is None:
        group = new_id()
        connection.execute(insert(PLAYER_GROUP), {"id": group, "name": name})
    else:
        of_group = PLAYER_GROUP.c.id == group
        connection.execute(update(PLAYER_GROUP).where(of_group).values(name=name))
        _empty(connection, group)
    named = {player_key(player): player for player in players}
    rows = [
        {"player_group": group, "player_key": key, "player": player}
        for key, player in named.items()
        if key
    ]
    if rows:
        connection.execute(insert(GROUP_PLAYER), rows)
    known = select(PERSON.c.id).where(
        PERSON.c.id.in_(list(coaches)), PERSON.c.withdrawn_utc_s.is_(None)
    )
    theirs = [{"player_group": group, "person": one} for one in connection.scalars(known).all()]
    if theirs:
        connection.execute(insert(GROUP_COACH), theirs)
    return group


def _empty(connection: Connection, group: str) -> None:
    for table in (GROUP_PLAYER, GROUP_COACH):
        connection.execute(delete(table).where(table.c.player_group == group))


def dissolve(connection: Connection, group: str) -> None:
    """The group is no more; its players' records stay."""
    _empty(connection, group)
    connection.execute(delete(PLAYER_GROUP).where(PLAYER_GROUP.c.id == group))


def group_of(connection: Connection, group: str) -> Group | None:
    """The group of this id."""
    return next((one for one in _read(connection) if one.id == group), None)


def groups_of(connection: Connection, person: Person) -> list[Group]:
    """The groups that this person sees, by name: the head coach all, a coach own ones."""
    if person.role is Role.VIEWER:
        return []
    return [
        one
        for one in _read(connection)
        if person.role is Role.HEAD_COACH or person.id in [coach for coach, _ in one.coaches]
    ]


def _read(connection: Connection) -> list[Group]:
    """Every group, by name; there are some dozens."""
    players: dict[str, list[str]] = {}
    for row in connection.execute(select(GROUP_PLAYER).order_by(GROUP_PLAYER.c.player)):
        players.setdefault(row.player_group, []).append(row.player)
    coaches: dict[str, list[tuple[str, str]]] = {}
    query = (
        select(GROUP_COACH.c.player_group, PERSON.c.id, PERSON.c.name)
        .join(PERSON, PERSON.c.id == GROUP_COACH.c.person)
        .order_by(PERSON.c.name)
    )
    for row in connection.execute(query):
        coaches.setdefault(row.player_group, []).append((row.id, row.name))
    rows = connection.execute(select(PLAYER_GROUP).order_by(PLAYER_GROUP.c.name, PLAYER_GROUP.c.id))
    return [
        Group(
            id=row.id,
            name=row.name,
            players=tuple(players.get(row.id, ())),
            coaches=tuple(coaches.get(row.id, ())),
        )
        for row in rows
    ]


def may_read(connection: Connection, person: Person, player: str) -> bool:
    """Whether this person may read this player's record."""
    if person.role is Role.HEAD_COACH:
        return True
    if person.role is not Role.COACH or not player_key(player):
        return False
    query = (
        select(GROUP_COACH.c.person)
        .join(GROUP_PLAYER, GROUP_PLAYER.c.player_group == GROUP_COACH.c.player_group)
        .join(PERSON, PERSON.c.id == GROUP_COACH.c.person)
        .where(
            GROUP_COACH.c.person == person.id,
            GROUP_PLAYER.c.player_key == player_key(player),
            PERSON.c.withdrawn_utc_s.is_(None),
        )
    )
    return connection.execute(query).first() is not None


def without_a_group(connection: Connection) -> list[str]:
    """Players of lessons who are in no group yet, by name."""
    grouped = select(GROUP_PLAYER.c.player_key)
    query = (
        select(LESSON_PLAYER.c.player_key, LESSON_PLAYER.c.player)
        .where(LESSON_PLAYER.c.player_key.not_in(grouped))
        .order_by(LESSON_PLAYER.c.player)
    )
    return list({row.player_key: row.player for row in connection.execute(query)}.values())
