"""The log written and read in order.

Every event stands in it once, by its court, lesson and number. Whoever follows it asks for what
comes after a position. On PostgreSQL several write at once, and a number of the log that was drawn
first may be committed last; a row therefore counts only when every transaction that began no later
than its own has ended (``pg_snapshot_xmin``: PostgreSQL's documentation, "System Information
Functions"), and rows are read by transaction, then by number: what is read later never belongs
before what was read already.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import takewhile
from typing import Any

import msgspec
from sqlalchemy import (
    ColumnElement,
    Connection,
    RowMapping,
    and_,
    insert,
    literal_column,
    select,
    true,
    tuple_,
)
from sqlalchemy import update as update_rows
from sqlalchemy.dialects import postgresql, sqlite

from feedscript.club.batch import Event, Header, Mark, Part
from feedscript.club.store.log_tables import EVENT, LESSON
from feedscript.club.store.people.forgotten import redacted, taking_in, tombstones_for
from feedscript.club.store.people.players import note_players
from feedscript.club.store.store import Store
from feedscript.club.store.tables import HOST


class Position(msgspec.Struct, frozen=True, order=True):
    """How far somebody has read."""

    xact: int = -1
    seq: int = -1


class Logged(msgspec.Struct, frozen=True, kw_only=True):
    """An event as the log has it, with the court and lesson to which it belongs."""

    host: str
    lesson: str
    event: Event
    received_utc_s: float


class OutOfOrderError(Exception):
    """A lesson's events do not follow what is held of it; ``wanted`` is the number that would."""

    def __init__(self, what: str, lesson: str, wanted: int) -> None:
        super().__init__(what)
        self.lesson = lesson
        self.wanted = wanted


def take_in(
    store: Store, host: str, parts: Sequence[Part], received_utc_s: float
) -> dict[str, int]:
    """Write down what a court sent: all of it, or nothing. The highest number held of each lesson.

    What is held already is passed over. Raises OutOfOrderError for events that do not follow, for a
    lesson that begins without its head, and for other words under a number that is held.
    """
    with store.writing() as connection:
        held = write(connection, host, parts, received_utc_s)
        store.bell.ring_within(connection)
    store.bell.ring()
    return held


def write(
    connection: Connection, host: str, parts: Sequence[Part], received_utc_s: float
) -> dict[str, int]:
    """As :func:`take_in`, within a transaction that the caller ends."""
    taking_in(connection)
    stones = tombstones_for(connection, host)
    # In one order everywhere: two who wait for each other's lessons would wait for ever.
    return {
        part.lesson: _take_in_part(
            connection, host, redacted(connection, part, stones), received_utc_s
        )
        for part in sorted(parts, key=lambda part: part.lesson)
    }


def _take_in_part(connection: Connection, host: str, part: Part, received_utc_s: float) -> int:
    held = _locked(connection, host, part)
    _see_that_it_follows(part, held)
    _see_that_it_goes_on(connection, host, part)
    _see_that_it_says_the_same(connection, host, part, held)
    new = [one for one in part.events if one.number > held]
    note_players(connection, host, part.lesson, part.header if held == 0 else None, new)
    if new:
        rows = [_row(host, part.lesson, event, received_utc_s) for event in new]
        connection.execute(insert(EVENT).values(xact=_xact(connection)), rows)
        held = new[-1].number
        of_lesson = (LESSON.c.host == host) & (LESSON.c.lesson == part.lesson)
        connection.execute(update_rows(LESSON).where(of_lesson).values(held=held))
    return held


def _row(host: str, lesson: str, event: Event, received_utc_s: float) -> dict[str, Any]:
    row = msgspec.structs.asdict(event)
    return {"host": host, "lesson": lesson, "received_utc_s": received_utc_s, **row}


def _xact(connection: Connection) -> ColumnElement[int]:
    on_postgres = connection.dialect.name == "postgresql"
    return literal_column("pg_current_xact_id()::text::bigint" if on_postgres else "0")


def _locked(connection: Connection, host: str, part: Part) -> int:
    """The highest number held of the lesson, which nobody else changes until we have ended."""
    if part.header is not None:
        _write_head(connection, host, part.lesson, part.header)
    query = select(LESSON.c.held).where(LESSON.c.host == host, LESSON.c.lesson == part.lesson)
    held: int | None = connection.execute(query.with_for_update()).scalar_one_or_none()
    if held is None:
        raise OutOfOrderError("it begins without saying what it is", part.lesson, 1)
    return held


def _write_head(connection: Connection, host: str, lesson: str, header: Header) -> None:
    """The first head stays: a court may send it again, with a name in it since forgotten."""
    row = {"host": host, "lesson": lesson, "held": 0, **msgspec.structs.asdict(header)}
    if connection.dialect.name == "postgresql":
        connection.execute(postgresql.insert(LESSON).on_conflict_do_nothing(), row)
    else:
        connection.execute(sqlite.insert(LESSON).on_conflict_do_nothing(), row)


def _see_that_it_follows(part: Part, held: int) -> None:
    for at, event in enumerate(part.events):
        if event.number != part.events[0].number + at:
            raise OutOfOrderError("its events are not in order", part.lesson, held + 1)
    if part.events and part.events[0].number > held + 1:
        raise OutOfOrderError(
            f"event {part.events[0].number} came, and {held + 1} is missing", part.lesson, held + 1
        )


def _see_that_it_goes_on(connection: Connection, host: str, part: Part) -> None:
    """From the very event that is held before it; one that was thrown away by rule is not asked."""
    if part.behind is None or not part.events:
        return
    number = part.events[0].number - 1
    before = select(EVENT.c.utc_s, EVENT.c.kind, EVENT.c.launcher).where(
        EVENT.c.host == host, EVENT.c.lesson == part.lesson, EVENT.c.number == number
    )
    row = connection.execute(before).mappings().first()
    if row is not None and Mark(**row) != part.behind:
        raise OutOfOrderError(
            f"event {number} is another one in the court's journal: it was put back from a copy",
            part.lesson,
            number + 1,
        )


def _see_that_it_says_the_same(connection: Connection, host: str, part: Part, held: int) -> None:
    again = {one.number: one for one in part.events if one.number <= held}
    if not again:
        return
    rows = connection.execute(
        _EVENTS.where(
            EVENT.c.host == host,
            EVENT.c.lesson == part.lesson,
            EVENT.c.number.between(min(again), max(again)),
        )
    ).mappings()
    for kept in map(_logged, rows):
        if kept.event != again[kept.event.number]:
            raise OutOfOrderError(
                f"event {kept.event.number} is held already and says something else",
                part.lesson,
                held + 1,
            )


_EVENTS = select(EVENT)


def _logged(row: RowMapping) -> Logged:
    return Logged(
        host=row["host"],
        lesson=row["lesson"],
        received_utc_s=row["received_utc_s"],
        event=Event(
            number=row["number"],
            utc_s=row["utc_s"],
            kind=row["kind"],
            launcher=row["launcher"],
            data=row["data"],
        ),
    )


class Read(msgspec.Struct, frozen=True):
    """What was read of the log, and the position behind it. ``soon``: more is written, and counts
    as soon as somebody else's transaction has ended, of which no bell tells."""

    events: list[Logged]
    position: Position
    soon: bool = False


def after(store: Store, position: Position, most: int) -> Read:
    """What comes after this position in the log, at most so many."""
    with store.reading() as connection:
        counts = and_(true(), *_countable(connection)).label("counts")
        query = (
            _EVENTS.add_columns(counts)
            .where(tuple_(EVENT.c.xact, EVENT.c.seq) > (position.xact, position.seq))
            .order_by(EVENT.c.xact, EVENT.c.seq)
            .limit(most)
        )
        rows = connection.execute(query).mappings().all()
    counted = list(takewhile(lambda row: row["counts"], rows))
    if counted:
        position = Position(counted[-1]["xact"], counted[-1]["seq"])
    return Read([_logged(row) for row in counted], position, len(counted) < len(rows))


def end(store: Store) -> Position:
    """The position behind everything that can be read now."""
    with store.reading() as connection:
        query = (
            select(EVENT.c.xact, EVENT.c.seq)
            .where(*_countable(connection))
            .order_by(EVENT.c.xact.desc(), EVENT.c.seq.desc())
            .limit(1)
        )
        row = connection.execute(query).first()
    return Position() if row is None else Position(row.xact, row.seq)


class Lesson(msgspec.Struct, frozen=True):
    """A lesson of a court, and how much of it is held."""

    host: str
    host_name: str
    lesson: str
    held: int


def lessons_since(store: Store, utc_s: float) -> list[Lesson]:
    """Every lesson begun since then, the oldest first."""
    query = (
        select(LESSON.c.host, HOST.c.name, LESSON.c.lesson, LESSON.c.held)
        .join(HOST, HOST.c.id == LESSON.c.host)
        .where(LESSON.c.begun_utc_s >= utc_s)
        .order_by(LESSON.c.begun_utc_s, LESSON.c.host, LESSON.c.lesson)
    )
    with store.reading() as connection:
        return [Lesson(*row) for row in connection.execute(query)]


def of_lesson(
    store: Store, host: str, lesson: str, after_number: int = 0, kinds: Sequence[str] = ()
) -> list[Event]:
    """What is held of a lesson behind this number, in order; of some kinds only, where asked."""
    query = _EVENTS.where(
        EVENT.c.host == host, EVENT.c.lesson == lesson, EVENT.c.number > after_number
    ).order_by(EVENT.c.number)
    if kinds:
        query = query.where(EVENT.c.kind.in_(kinds))
    with store.reading() as connection:
        return [_logged(row).event for row in connection.execute(query).mappings()]


def head_of(store: Store, host: str, lesson: str) -> Header | None:
    """What a lesson is; None for one of which nothing is held."""
    columns = [LESSON.c[name] for name in Header.__struct_fields__]
    query = select(*columns).where(LESSON.c.host == host, LESSON.c.lesson == lesson)
    with store.reading() as connection:
        row = connection.execute(query).mappings().first()
    return None if row is None else Header(**row)


def _countable(connection: Connection) -> Iterator[ColumnElement[bool]]:
    if connection.dialect.name == "postgresql":
        oldest_at_work: ColumnElement[int] = literal_column(
            "pg_snapshot_xmin(pg_current_snapshot())::text::bigint"
        )
        yield EVENT.c.xact < oldest_at_work


def held(store: Store, host: str) -> dict[str, int]:
    """The highest number held of each of a court's lessons."""
    query = select(LESSON.c.lesson, LESSON.c.held).where(LESSON.c.host == host)
    with store.reading() as connection:
        return {row.lesson: row.held for row in connection.execute(query)}
