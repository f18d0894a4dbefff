"""STOPs from pages to courts, and how far each has come.

A STOP for a court whose socket is here is sent at once and waits for no database; what became of
it is written down behind it, in order, as soon as the store can. One for a court whose socket is at
another server process goes through the store, which wakes that process.
"""

from __future__ import annotations

import secrets
import time
from collections.abc import Callable
from functools import partial

import anyio
import anyio.to_thread
import msgspec

from feedscript.club.answers import RefusedError
from feedscript.club.messages import STOP_LIFE_S, Stop, StopEnded, StopState, StopTold
from feedscript.club.refusals import COURT_UNKNOWN
from feedscript.club.server.hub import Hub
from feedscript.club.server.lines import Lines
from feedscript.club.store import stops
from feedscript.club.store.store import Store
from feedscript.diagnostics import FeedscriptError

_RANK = {state: at for at, state in enumerate(StopState)} | {
    StopState.NOTHING: len(StopState) - 2  # either is the last word, and the first one stays
}
#: How long to wait before the store is asked again, s.
AGAIN_S = 1.0


class Stopping:
    """From the event loop alone. ``now_s`` gives rising seconds."""

    def __init__(
        self, store: Store, hub: Hub, lines: Lines, now_s: Callable[[], float] = time.monotonic
    ) -> None:
        self._store = store
        self._hub = hub
        self._lines = lines
        self._now_s = now_s
        self._told: dict[str, StopTold] = {}
        self._asked_s: dict[str, float] = {}
        send, receive = anyio.create_memory_object_stream[Callable[[], object]](10_000)
        self._to_write, self._written = send, receive

    def told(self) -> list[StopTold]:
        """Every STOP of the last minutes."""
        return list(self._told.values())

    async def ask(self, host: str, by: str) -> StopTold:
        """Stop a court. Raises RefusedError for one that there is not, FeedscriptError when it can
        be reached only through a store that is down."""
        order = secrets.token_hex(8)
        told = StopTold(order=order, host=host, by=by, state=StopState.ASKED)
        write = partial(stops.ask, self._store, order, host, by)
        if self._lines.has(host):
            self._learn(told, 0.0)
            self._to_write.send_nowait(write)
        elif await anyio.to_thread.run_sync(write):
            self._learn(told, 0.0)
        else:
            raise RefusedError(404, COURT_UNKNOWN.report("there is no such court in the club"))
        return told

    def heard(self, host: str, order: str) -> None:
        """The court has heard it."""
        if not self._changed(host, order, StopState.HEARD, ""):
            return
        self._to_write.send_nowait(partial(stops.heard, self._store, order, host))

    def ended(self, host: str, end: StopEnded) -> None:
        """The court says what became of it."""
        state = StopState.STOPPED if end.stopped else StopState.NOTHING
        if not self._changed(host, end.order, state, end.says):
            return
        write = partial(stops.ended, self._store, end.order, host, end.stopped, end.says)
        self._to_write.send_nowait(write)

    def for_host(self, host: str) -> list[Stop]:
        """What a court that has just come must be told at once."""
        return [
            Stop(one.order, one.by)
            for one in self._told.values()
            if one.host == host and one.state is StopState.ASKED
        ]

    async def run(self) -> None:
        """Write down what happened here, and learn what happened at other processes."""
        async with anyio.create_task_group() as group:
            group.start_soon(self._write_down)
            group.start_soon(self._learn_from_others)
            group.start_soon(self._give_up)

    async def _write_down(self) -> None:
        async for write in self._written:
            while True:
                try:
                    await anyio.to_thread.run_sync(write)
                    break
                except FeedscriptError:
                    await anyio.sleep(AGAIN_S)

    async def _learn_from_others(self) -> None:
        while True:
            try:
                for one in await anyio.to_thread.run_sync(stops.recent, self._store):
                    self._learn(one.told, one.age_s)
            except FeedscriptError:
                await anyio.sleep(AGAIN_S)
            await anyio.to_thread.run_sync(self._store.stop_bell.wait)

    async def _give_up(self) -> None:
        while True:
            await anyio.sleep(AGAIN_S / 4)
            self.give_up()

    def give_up(self) -> None:
        """What nobody acknowledged in time is lost, and said to be; old ones are forgotten here."""
        for order, asked_s in tuple(self._asked_s.items()):
            age_s = self._now_s() - asked_s
            if age_s > STOP_LIFE_S:
                told = self._told[order]
                self._learn(msgspec.structs.replace(told, state=StopState.LOST), age_s)
            if age_s > stops.TOLD_S:
                del self._told[order], self._asked_s[order]

    def _changed(self, host: str, order: str, state: StopState, says: str) -> bool:
        told = self._told.get(order)
        if told is None or told.host != host:  # nobody answers for another court
            return False
        return self._learn(msgspec.structs.replace(told, state=state, says=says), 0.0)

    def _learn(self, told: StopTold, age_s: float) -> bool:
        """Take it if it says more than is known here: how far a STOP has come only rises."""
        known = self._told.get(told.order)
        if known is not None and _RANK[told.state] <= _RANK[known.state]:
            return False
        self._asked_s.setdefault(told.order, self._now_s() - age_s)
        self._told[told.order] = told
        self._hub.tell(told)
        if told.state is StopState.ASKED and age_s <= STOP_LIFE_S:
            self._lines.say(told.host, Stop(told.order, told.by))
        return True
