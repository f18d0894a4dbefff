"""Following the log: each event once, in order, soon after it was written."""

from __future__ import annotations

from collections.abc import AsyncIterator

import anyio.to_thread

from feedscript.club.store.log import Logged, Position, Read, after
from feedscript.club.store.store import Store
from feedscript.diagnostics import FeedscriptError

#: What is read at once. Design value.
MOST = 500
#: How soon it is looked again for what waits for somebody else's transaction, s. Design value: as
#: long as a short one takes.
SOON_S = 0.005


async def follow(store: Store, position: Position) -> AsyncIterator[tuple[list[Logged], Position]]:
    """What comes after this position, as it comes, each time with the position behind it; one
    follower a store. While the database cannot be read it goes on asking."""
    while True:
        try:
            read = await anyio.to_thread.run_sync(after, store, position, MOST)
        except FeedscriptError:
            read = Read([], position)
        position = read.position
        if read.events:
            yield read.events, position
        if read.soon:
            await anyio.sleep(SOON_S)
        elif len(read.events) < MOST:
            await anyio.to_thread.run_sync(store.bell.wait, abandon_on_cancel=False)
