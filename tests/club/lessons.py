"""Invented lessons, as courts send them."""

from __future__ import annotations

from feedscript.club.batch import Event, Header, Part
from feedscript.club.store import hosts
from feedscript.club.store.store import Store

LESSON = "1-0000beef"
HEADER = Header(
    begun_utc_s=1.8e9,
    title="invented",
    source="invented.feed",
    rehearsal=True,
    plan="{}",
    profiles="[]",
    group_json="[]",
    event_format=1,
)


def event(number: int, data: str | None = None) -> Event:
    told = f'{{"number": {number}}}' if data is None else data
    return Event(number=number, utc_s=1.8e9 + number, kind="said", launcher=None, data=told)


def part(first: int, last: int, lesson: str = LESSON, header: Header | None = HEADER) -> Part:
    return Part(
        lesson=lesson, header=header, events=tuple(event(one) for one in range(first, last + 1))
    )


def court(store: Store, name: str = "court one") -> hosts.Joined:
    joined = hosts.join(store, hosts.new_code(store, 100.0), name, 50.0)
    assert joined is not None
    return joined
