"""Who follows the log hears each event once, woken by whichever process wrote it."""

from __future__ import annotations

from contextlib import aclosing, closing

import anyio

from feedscript.club.store.follow import follow
from feedscript.club.store.log import Position, take_in
from feedscript.club.store.store import Store, open_store
from tests.club.conftest import BOTH, ON_POSTGRES
from tests.club.lessons import court, part


def heard(writer: Store, reader: Store, host: str) -> list[int]:
    """What one hears who follows while three batches are written."""

    async def main() -> list[int]:
        found: list[int] = []
        with anyio.fail_after(30):
            async with aclosing(follow(reader, Position())) as news:
                take_in(writer, host, [part(1, 2)], 9.0)
                async for events, _ in news:
                    found += [one.event.number for one in events]
                    if len(found) >= 6:
                        return found
                    take_in(writer, host, [part(len(found) + 1, len(found) + 2)], 9.0)
        return found

    return anyio.run(main)


@BOTH
def test_each_event_is_heard_once_by_who_follows_in_the_same_process(store: Store) -> None:
    assert heard(store, store, court(store).host) == [1, 2, 3, 4, 5, 6]


@ON_POSTGRES
def test_each_event_is_heard_once_from_another_process(address: str) -> None:
    with closing(open_store(address)) as one, closing(open_store(address)) as other:
        assert heard(one, other, court(one).host) == [1, 2, 3, 4, 5, 6]
