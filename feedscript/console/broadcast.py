"""The latest snapshot, encoded once for all who watch it, however many they are."""

from __future__ import annotations

from dataclasses import dataclass, field

import anyio

from feedscript.console.messages import encode, public
from feedscript.session.snapshot import LessonControl, Snapshot


@dataclass(slots=True)
class Broadcast:
    """Follows a lesson; a slow reader misses snapshots and never delays anyone."""

    lesson: LessonControl
    _changed: anyio.Event = field(default_factory=anyio.Event)
    _number: int = -1
    _coach: str = ""
    _viewer: str = ""

    async def follow(self) -> None:
        """Run until cancelled or until the lesson has nothing more to say."""
        self._take(self.lesson.snapshot)
        async for snapshot in self.lesson.changes():
            self._take(snapshot)

    def _take(self, snapshot: Snapshot) -> None:
        self._number = snapshot.number
        self._coach = encode({"snapshot": snapshot})
        self._viewer = encode({"snapshot": public(snapshot)})
        self._changed.set()
        self._changed = anyio.Event()

    def latest(self, *, private: bool) -> str:
        """The latest snapshot as a message; empty before the first."""
        return self._coach if private else self._viewer

    @property
    def number(self) -> int:
        """Which snapshot is the latest."""
        return self._number

    async def newer_than(self, number: int, within_s: float) -> bool:
        """Wait for a snapshot after ``number``; false when none came in time."""
        if self._number > number:
            return True
        with anyio.move_on_after(within_s):
            await self._changed.wait()
        return self._number > number
