"""The latest view, encoded once in each language for all who watch it, however many they are."""

from __future__ import annotations

import anyio

from feedscript.console.messages import encode
from feedscript.session.operator.controller import Controller
from feedscript.session.operator.view import LessonView, for_the_group
from feedscript.tongues.tongue import Tongue


class Broadcast:
    """Follows a lesson; a slow reader misses views and never delays anyone."""

    def __init__(self, lesson: Controller) -> None:
        self.lesson = lesson
        self._changed = anyio.Event()
        self._number = -1
        self._view = lesson.view
        self._encoded: dict[tuple[str, bool], str] = {}

    async def follow(self) -> None:
        """Run until cancelled or until the lesson has nothing more to say."""
        self._take(self.lesson.view)
        async for view in self.lesson.views():
            self._take(view)

    def _take(self, view: LessonView) -> None:
        self._number = view.revision
        self._view = view
        self._encoded = {}
        self._changed.set()
        self._changed = anyio.Event()

    def latest(self, tongue: Tongue, *, private: bool) -> str:
        """The latest view as a message in a language, made when the first asks for it."""
        wanted = (tongue.language, private)
        if wanted not in self._encoded:
            view = self._view if private else for_the_group(self._view, tongue)
            self._encoded[wanted] = encode({"view": view}, tongue)
        return self._encoded[wanted]

    @property
    def number(self) -> int:
        """Which view is the latest."""
        return self._number

    async def newer_than(self, number: int, within_s: float) -> bool:
        """Wait for a view after ``number``; false when none came in time."""
        if self._number > number:
            return True
        with anyio.move_on_after(within_s):
            await self._changed.wait()
        return self._number > number
