"""A lesson that only remembers what it was told, for testing the page's walls without balls.

The page against the real engine is tested in ``test_lesson_from_a_phone.py``.
"""

from __future__ import annotations

from collections.abc import AsyncIterator

import anyio
import msgspec

from feedscript.diagnostics import Diagnostic
from feedscript.session.commands import Command
from feedscript.session.state import State
from tests.session.seen_states import a_state

__all__ = ["RememberingLesson", "a_state"]


class RememberingLesson:
    """Accepts every command and writes it down."""

    def __init__(self) -> None:
        self.told: list[tuple[Command, str]] = []
        self._state = a_state()
        self._changed = anyio.Event()

    @property
    def state(self) -> State:
        return self._state

    def change(self) -> None:
        """Something happened."""
        self._state = msgspec.structs.replace(self._state, revision=self._state.revision + 1)
        self._changed.set()
        self._changed = anyio.Event()

    async def states(self) -> AsyncIterator[State]:
        while True:
            yield self._state
            await self._changed.wait()

    async def command(self, command: Command, by: str = "terminal") -> Diagnostic | None:
        self.told.append((command, by))
        return None
