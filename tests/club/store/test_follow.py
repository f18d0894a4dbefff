"""Who follows the log hears each event once, woken by whichever process wrote it."""

from __future__ import annotations

from contextlib import aclosing, closing

import anyio
from sqlalchemy import text

from feedscript.club.store.follow import follow
from feedscript.club.store.log import Position, take_in
from feedscript.club.store.store import Store, open_store
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


def test_each_event_is_heard_once_from_this_process_and_from_another(address: str) -> None:
    with closing(open_store(address)) as one, closing(open_store(address)) as other:
        assert heard(one, one, court(one).host) == [1, 2, 3, 4, 5, 6]
        with other.writing() as connection:
            connection.execute(text("DELETE FROM event"))
        assert heard(one, other, court(one, "court two").host) == [1, 2, 3, 4, 5, 6]
