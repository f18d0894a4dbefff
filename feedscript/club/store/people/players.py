"""Which players are named in which lesson, noted as its events come; and a lesson whole."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

import msgspec
from sqlalchemy import Connection, delete, select
from sqlalchemy.dialects import postgresql, sqlite

from feedscript.club.batch import Event, Header
from feedscript.club.store.log_tables import EVENT, LESSON
from feedscript.club.store.people.audit import player_key
from feedscript.club.store.people.tables import GROUP_PLAYER, LESSON_PLAYER
from feedscript.journal.redaction import FORGOTTEN, names_told
from feedscript.visible import on_one_line

#: No player is called longer: twice what a lesson takes.
MOST_NAME = 80


class Whole(msgspec.Struct, frozen=True, kw_only=True):
    """A lesson as the club has it: its head, and its events in order."""

    host: str  # the court's own name at the club
    lesson: str  # by its name at that court
    head: Header
    events: tuple[Event, ...]


def note_players(
    connection: Connection, host: str, lesson: str, head: Header | None, events: Iterable[Event]
) -> None:
    """Write down who is named in what came of a lesson."""
    there = {player_key(name): name for name in named(head, events)}
    rows = [
        {"host": host, "lesson": lesson, "player_key": key, "player": name}
        for key, name in there.items()
        if key
    ]
    if not rows:
        return
    if connection.dialect.name == "postgresql":
        connection.execute(postgresql.insert(LESSON_PLAYER).on_conflict_do_nothing(), rows)
    else:
        connection.execute(sqlite.insert(LESSON_PLAYER).on_conflict_do_nothing(), rows)


def named(head: Header | None, events: Iterable[Event]) -> Iterator[str]:
    """Every player's name that stands in a lesson's head and in events."""
    told = [] if head is None else [head.group_json]
    told += [event.data for event in events if '"player' in event.data or "\\u" in event.data]
    for text in told:
        for name in _names(text):
            name = on_one_line(name.strip())
            if len(name) <= MOST_NAME and name != FORGOTTEN:
                yield name


def _names(text: str) -> list[str]:
    try:
        return list(names_told(msgspec.json.decode(text)))
    except (msgspec.DecodeError, RecursionError):  # nobody's name, as we write them
        return []


def forget_where_named(connection: Connection, player: str) -> None:
    """Nothing says any more in which lessons the player was."""
    key = player_key(player)
    connection.execute(delete(LESSON_PLAYER).where(LESSON_PLAYER.c.player_key == key))


def known_players(connection: Connection) -> dict[str, str]:
    """Every player of a lesson or a group, by key, each name as one of them has it."""
    found: dict[str, str] = {}
    for table in (LESSON_PLAYER, GROUP_PLAYER):
        query = select(table.c.player_key, table.c.player).distinct()
        found |= {row.player_key: row.player for row in connection.execute(query)}
    return found


def lessons_with(connection: Connection, player: str) -> list[tuple[str, str]]:
    """Host and name of each lesson in which the player is named, oldest first."""
    query = (
        select(LESSON.c.host, LESSON.c.lesson)
        .join(
            LESSON_PLAYER,
            (LESSON_PLAYER.c.host == LESSON.c.host) & (LESSON_PLAYER.c.lesson == LESSON.c.lesson),
        )
        .where(LESSON_PLAYER.c.player_key == player_key(player))
        .order_by(LESSON.c.begun_utc_s, LESSON.c.host, LESSON.c.lesson)
    )
    return [(row.host, row.lesson) for row in connection.execute(query)]


def lessons_of(connection: Connection, host: str | None = None) -> list[tuple[str, str]]:
    """Host and name of each lesson of one court's computer, or of all, oldest first."""
    query = select(LESSON.c.host, LESSON.c.lesson)
    query = query.order_by(LESSON.c.begun_utc_s, LESSON.c.host, LESSON.c.lesson)
    if host is not None:
        query = query.where(LESSON.c.host == host)
    return [(row.host, row.lesson) for row in connection.execute(query)]


def whole(connection: Connection, host: str, lesson: str) -> Whole | None:
    """A lesson; None for one that was thrown away, or never came."""
    of_lesson = (LESSON.c.host == host) & (LESSON.c.lesson == lesson)
    head = connection.execute(select(LESSON).where(of_lesson)).mappings().first()
    of_events = (EVENT.c.host == host) & (EVENT.c.lesson == lesson)
    columns = [EVENT.c[name] for name in Event.__struct_fields__]
    rows = connection.execute(select(*columns).where(of_events).order_by(EVENT.c.number))
    if head is None or not head["plan"]:
        return None
    return Whole(
        host=host,
        lesson=lesson,
        head=Header(**{name: head[name] for name in Header.__struct_fields__}),
        events=tuple(Event(**row) for row in rows.mappings()),
    )
