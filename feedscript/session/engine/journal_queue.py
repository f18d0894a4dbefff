"""Writing the journal beside a running lesson.

A write that must be on the disk before the next thing happens is awaited; what merely happened is
queued and written in the same order. On court the disk is written from a thread, so that a slow
disk delays no stop; in rehearsal, where time is virtual, at once.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import TypeAlias

import anyio
import anyio.to_thread

from feedscript.diagnostics import Diagnostic, FeedscriptError

Write: TypeAlias = Callable[[], object]


class JournalQueue:
    """Does writes one after another. ``trouble`` holds the diagnostic of the first that failed."""

    def __init__(self, *, threaded: bool) -> None:
        self._threaded = threaded
        self._waiting: list[Write] = []
        self._more = anyio.Event()
        self._written = anyio.Event()
        self._closing = False
        self._done = 0
        self._asked = 0
        self.trouble: Diagnostic | None = None

    def later(self, write: Write) -> None:
        """Queue a write; it keeps its place before every later one."""
        if not self._threaded:
            self._do([write])
            return
        self._waiting.append(write)
        self._asked += 1
        self._more.set()

    async def written(self) -> None:
        """Return when everything queued before is on the disk.

        Raises FeedscriptError when the journal cannot be written.
        """
        place = self._asked
        while self._done < place:
            await self._written.wait()
        if self.trouble is not None:
            raise FeedscriptError(self.trouble)

    async def run(self) -> None:
        """Do queued writes until closed; for a task of its own."""
        while not (self._closing and not self._waiting):
            if not self._waiting:
                await self._more.wait()
            batch, self._waiting = self._waiting, []
            self._more = anyio.Event()
            if not batch:
                continue
            await self._write(batch)
            self._done += len(batch)
            written, self._written = self._written, anyio.Event()
            written.set()

    async def _write(self, batch: list[Write]) -> None:
        await anyio.to_thread.run_sync(self._do, batch)

    def close(self) -> None:
        """Let ``run`` end when all is written."""
        self._closing = True
        self._more.set()

    def _do(self, batch: list[Write]) -> None:
        for write in batch:
            if self.trouble is not None:
                return
            try:
                write()
            except FeedscriptError as trouble:
                self.trouble = trouble.diagnostic
