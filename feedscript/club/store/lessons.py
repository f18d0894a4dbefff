"""One lesson as the club has it, from its beginning."""

from __future__ import annotations

import msgspec
from sqlalchemy import select

from feedscript.club.batch import Event, Header
from feedscript.club.store.log_tables import EVENT, LESSON
from feedscript.club.store.store import Store


class Lesson(msgspec.Struct, frozen=True, kw_only=True):
    """Its head, its events in order, and when the last of them came."""

    header: Header
    events: tuple[Event, ...]
    received_utc_s: float


def read_lesson(store: Store, host: str, lesson: str) -> Lesson | None:
    """A lesson; None for one that never came, or was thrown away. Raises FeedscriptError."""
    of_lesson = (LESSON.c.host == host) & (LESSON.c.lesson == lesson)
    of_events = (EVENT.c.host == host) & (EVENT.c.lesson == lesson)
    columns = [EVENT.c[name] for name in (*Event.__struct_fields__, "received_utc_s")]
    with store.reading() as connection:
        head = connection.execute(select(LESSON).where(of_lesson)).mappings().first()
        query = select(*columns).where(of_events).order_by(EVENT.c.number)
        rows = [dict(row) for row in connection.execute(query).mappings()]
    if head is None or not head["plan"]:
        return None
    received_s = max((row.pop("received_utc_s") for row in rows), default=0.0)
    return Lesson(
        header=Header(**{name: head[name] for name in Header.__struct_fields__}),
        events=tuple(Event(**row) for row in rows),
        received_utc_s=received_s,
    )
