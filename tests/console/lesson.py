"""A lesson that only remembers what it was told, for testing the page's walls without balls.

The page against the real engine is tested in ``test_lesson_from_a_phone.py``.
"""

from __future__ import annotations

from collections.abc import AsyncIterator

import anyio
import msgspec

from feedscript.diagnostics import Diagnostic
from feedscript.session.operator.commands import Command
from feedscript.session.operator.view import LessonView
from tests.session.operator.seen_views import a_state


class RememberingLesson:
    """Accepts every command and writes it down."""

    def __init__(self, state: LessonView | None = None) -> None:
        self.told: list[tuple[Command, str]] = []
        self.refuses: Diagnostic | None = None
        self.noticed: list[Diagnostic] = []
        self._state = state or a_state()
        self._changed = anyio.Event()

    @property
    def view(self) -> LessonView:
        return self._state

    def change(self, state: LessonView | None = None) -> None:
        """Something happened; with ``state``, this is what can be seen now."""
        revision = self._state.revision + 1
        self._state = msgspec.structs.replace(state or self._state, revision=revision)
        self._changed.set()
        self._changed = anyio.Event()

    async def views(self) -> AsyncIterator[LessonView]:
        while True:
            yield self._state
            await self._changed.wait()

    async def command(self, command: Command, by: str = "terminal") -> Diagnostic | None:
        self.told.append((command, by))
        return self.refuses

    def notice(self, trouble: Diagnostic) -> None:
        self.noticed.append(trouble)
