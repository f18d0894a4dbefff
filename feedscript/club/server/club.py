"""What every request of one server process needs, and what goes on beside them."""

from __future__ import annotations

import time
from collections.abc import AsyncIterator, Awaitable, Callable
from contextlib import asynccontextmanager

import anyio
import anyio.to_thread

from feedscript.club.known import Known
from feedscript.club.launchers.sheets import Launchers
from feedscript.club.messages import Happened
from feedscript.club.people.keeping import keep_to_rules
from feedscript.club.server.hub import Hub
from feedscript.club.server.lines import Lines
from feedscript.club.server.presence import Presence
from feedscript.club.server.stopping import Stopping
from feedscript.club.store.follow import follow
from feedscript.club.store.log import Logged, end
from feedscript.club.store.store import Store
from feedscript.club.who import Who
from feedscript.diagnostics import FeedscriptError


class Club:
    """One server process on a store. ``who`` tells who makes a request."""

    def __init__(self, store: Store, who: Who, now_s: Callable[[], float] = time.monotonic) -> None:
        self.store = store
        self.who = who
        self.hub = Hub()
        self.lines = Lines()
        self.known = Known()
        self.launchers = Launchers(store)
        self.stopping = Stopping(store, self.hub, self.lines, now_s)
        self.presence = Presence(store, self.hub, now_s)
        #: What goes on beside requests, for ever; pages may add their own.
        self.works = [self.stopping.run, self.presence.run, self._follow, self._keep_to_rules]
        #: What ended one of its works that should never end.
        self.fault: BaseException | None = None

    @asynccontextmanager
    async def running(self) -> AsyncIterator[None]:
        """Inside the context the news flows."""
        async with anyio.create_task_group() as group:
            for work in self.works:
                group.start_soon(self._watched, work)
            try:
                yield
            finally:
                group.cancel_scope.cancel()
                for bell in (self.store.bell, self.store.stop_bell):
                    bell.ring()  # whoever waits at one in a thread

    async def _watched(self, work: Callable[[], Awaitable[None]]) -> None:
        """A fault here is known, and ends the server: one that answers and hears nothing would be
        worse."""
        try:
            await work()
        except Exception as fault:  # noqa: BLE001 (the rim of the process's works)
            self.fault = fault

    async def _keep_to_rules(self) -> None:
        await keep_to_rules(self.store)

    async def _follow(self) -> None:
        position = None
        while position is None:
            try:
                position = await anyio.to_thread.run_sync(end, self.store)
            except FeedscriptError:
                await anyio.sleep(1.0)
        async for events, _ in follow(self.store, position):
            for happened in together(events):
                self.hub.tell(happened)


def together(events: list[Logged]) -> list[Happened]:
    """Events that follow each other in one lesson, as one piece of news."""
    told: list[Happened] = []
    for one in events:
        last = told[-1] if told else None
        if last is not None and (last.host, last.lesson) == (one.host, one.lesson):
            events_so_far = (*last.events, one.event)
            told[-1] = Happened(host=one.host, lesson=one.lesson, events=events_so_far)
        else:
            told.append(Happened(host=one.host, lesson=one.lesson, events=(one.event,)))
    return told
