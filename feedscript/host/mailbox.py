"""From threads and signal handlers to a task, where no event loop can watch a console."""

from __future__ import annotations

import queue
from typing import Generic, TypeVar

import anyio
import anyio.to_thread

T = TypeVar("T")


class Mailbox(Generic[T]):
    """What is put in, in its order; anybody may put, a signal's handler too, and one task takes."""

    def __init__(self) -> None:
        self._waiting: queue.SimpleQueue[T | None] = queue.SimpleQueue()

    def put(self, item: T) -> None:
        self._waiting.put(item)

    async def take(self) -> T:
        """The next item, waited for. Raises anyio.ClosedResourceError once it is closed."""
        # The thread that waits is left to itself where the task is cancelled: close() ends it.
        item = await anyio.to_thread.run_sync(self._waiting.get, abandon_on_cancel=True)
        if item is None:
            raise anyio.ClosedResourceError
        return item

    def close(self) -> None:
        """Nothing more is taken."""
        self._waiting.put(None)
