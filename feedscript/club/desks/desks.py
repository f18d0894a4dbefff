"""Every desk of one server process: so many at a time, none for longer than somebody is at it."""

from __future__ import annotations

import time
from collections.abc import Callable
from contextlib import suppress

import anyio
import anyio.to_thread
from anyio.abc import TaskGroup

from feedscript.club.desks import MOST_DESKS
from feedscript.club.desks.coach_desk import CoachDesk
from feedscript.club.desks.folder import not_laid_out
from feedscript.club.refusals import DESKS_TAKEN
from feedscript.diagnostics import FeedscriptError

#: A desk that nobody has asked anything for so long, and that no page is open at, goes, s.
IDLE_S = 600.0
#: How often it is looked for those, s.
LOOK_S = 15.0


class Desks:
    """From the event loop alone."""

    def __init__(self, most: int = MOST_DESKS, now_s: Callable[[], float] = time.monotonic) -> None:
        self._most = most
        self._now_s = now_s
        self._of: dict[str, CoachDesk] = {}
        self._asked_s: dict[str, float] = {}
        self._beginning: TaskGroup | None = None
        #: Brings what lies on a coach's desk up to the store; called in a thread.
        self.bring: Callable[[str, CoachDesk], None] = lambda _person, _desk: None

    async def of(self, person: str) -> CoachDesk:
        """This coach's desk. Raises FeedscriptError when there is none to be had."""
        if person not in self._of:
            await self._make_room()
            try:
                self._of.setdefault(person, CoachDesk())
            except OSError as trouble:
                raise not_laid_out(trouble) from trouble
            if self._beginning is not None:
                self._beginning.start_soon(self._of[person].begin)
        self._asked_s[person] = self._now_s()
        return self._of[person]

    async def _make_room(self) -> None:
        """Whoever asked longest ago and has no page open goes first."""
        if len(self._of) < self._most:
            return
        if not self._most:
            raise FeedscriptError(
                DESKS_TAKEN.report(
                    "this club's server has no desks",
                    help="write on a computer of your own: feedscript desk",
                )
            )
        free = [person for person, desk in self._of.items() if not desk.in_use]
        if not free:
            raise FeedscriptError(
                DESKS_TAKEN.report(
                    f"{self._most} coaches are at desks of this server, and more there are not",
                    help="wait until one of them has closed the page, then load this one again",
                )
            )
        await self._clear(min(free, key=lambda person: self._asked_s[person]))

    async def run(self) -> None:
        """Beside the requests, for ever: desks that nobody is at go, all of them at the end; from
        the others goes what the store has no more, such as the name of a player who was forgotten.
        """
        try:
            async with anyio.create_task_group() as self._beginning:
                while True:
                    await anyio.sleep(LOOK_S)
                    await self.clear_idle()
                    for person, desk in tuple(self._of.items()):
                        with desk.used(), suppress(FeedscriptError):
                            await anyio.to_thread.run_sync(self.bring, person, desk)
        finally:
            self._beginning = None
            with anyio.CancelScope(shield=True):
                for person in tuple(self._of):
                    await self._clear(person)

    async def clear_idle(self) -> None:
        old_s = self._now_s() - IDLE_S
        for person, desk in tuple(self._of.items()):
            if not desk.in_use and self._asked_s[person] < old_s:
                await self._clear(person)

    async def _clear(self, person: str) -> None:
        desk = self._of.pop(person)
        del self._asked_s[person]
        await desk.clear()
