"""The rules of what is kept are kept to, beside the server's other works."""

from __future__ import annotations

import time
from collections.abc import Callable
from contextlib import suppress

import anyio
import anyio.to_thread

from feedscript.club.store.people.retention import throw_away_old
from feedscript.club.store.store import Store
from feedscript.diagnostics import FeedscriptError

#: How often it is looked, s.
EVERY_S = 3600.0


async def keep_to_rules(store: Store, utc_s: Callable[[], float] = time.time) -> None:
    """Throw away what is old enough, now and every hour. A store that cannot be written is tried
    again then."""
    while True:
        with suppress(FeedscriptError):
            await anyio.to_thread.run_sync(throw_away_old, store, utc_s())
        await anyio.sleep(EVERY_S)
