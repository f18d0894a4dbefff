"""The lesson as the page's thread sees it: views come over, commands go back.

The page is served by an event loop in a thread of its own, so that whatever comes in from the
network waits there and never in the loop that talks to the launchers.
"""

from __future__ import annotations

import asyncio
from collections.abc import AsyncIterator
from contextlib import suppress

from anyio.from_thread import BlockingPortal

from feedscript.diagnostics import Diagnostic
from feedscript.session.operator.commands import Command
from feedscript.session.operator.controller import Controller
from feedscript.session.operator.view import LessonView


class LessonProxy:
    """A :class:`Controller` for another thread than the lesson's.

    ``portal`` leads into the lesson's loop. To be made and used in the page's loop; only
    :meth:`tell` belongs to the lesson's.
    """

    def __init__(self, lesson: Controller, view: LessonView, portal: BlockingPortal) -> None:
        self._lesson = lesson
        self._portal = portal
        self._loop = asyncio.get_running_loop()
        self._newest = view
        self._told = False
        self._changed = asyncio.Event()

    @property
    def view(self) -> LessonView:
        return self._newest

    async def views(self) -> AsyncIterator[LessonView]:
        while True:
            changed, view = self._changed, self._newest
            yield view
            if view.ending is not None:
                return
            await changed.wait()

    async def command(self, command: Command, by: str = "terminal") -> Diagnostic | None:
        """A command that was given is carried out, though its page goes away meanwhile."""
        done = self._portal.start_task_soon(self._lesson.command, command, by)
        return await asyncio.shield(asyncio.wrap_future(done))

    def notice(self, trouble: Diagnostic) -> None:
        with suppress(RuntimeError):  # the lesson has ended
            self._portal.start_task_soon(self._lesson.notice, trouble)

    async def tell(self) -> None:
        """Bring the lesson's views over, until there are no more or nobody takes them.

        Views that come faster than they are taken replace one another.
        """
        async for view in self._lesson.views():
            self._newest = view
            if not self._told:
                self._told = True
                with suppress(RuntimeError):  # the page's loop has ended
                    self._loop.call_soon_threadsafe(self._wake)

    def _wake(self) -> None:
        self._told = False
        self._changed.set()
        self._changed = asyncio.Event()
