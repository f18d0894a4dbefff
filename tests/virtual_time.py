"""Async code on a clock that jumps to whatever is due next, and the same way each time.

Of tasks that could go on at the same moment trio picks one by chance, unless it is told to keep to
an order: this is what hypothesis's own trio support does too.
"""

from __future__ import annotations

import queue
import threading
from collections.abc import Awaitable, Callable
from contextlib import AbstractAsyncContextManager
from typing import Any, Generic, TypeVar

import trio
import trio.testing

T = TypeVar("T")


def in_virtual_time(
    run: Callable[..., Awaitable[T]], *args: object, seed: int = 0, from_s: float = 0.0
) -> T:
    """Run to the end; the order of tasks that are due together comes from ``seed``."""
    trio._core._run._r.seed(seed)
    trio._core._run._ALLOW_DETERMINISTIC_SCHEDULING = True
    try:
        clock = trio.testing.MockClock(autojump_threshold=0)
        clock.jump(from_s)
        return trio.run(run, *args, clock=clock)
    finally:
        trio._core._run._ALLOW_DETERMINISTIC_SCHEDULING = False


class Loop(Generic[T]):
    """A world in a loop on the virtual clock, in a thread; time stands still between two steps.

    For machines of rules, whose steps come from outside of the loop.
    """

    def __init__(self, open_world: Callable[[], AbstractAsyncContextManager[T]]) -> None:
        self._asked: queue.Queue[Any] = queue.Queue()
        self._answered: queue.Queue[Any] = queue.Queue()
        self._thread = threading.Thread(target=self._run, args=(open_world,))
        self._thread.start()
        self.world: T = self._answer()

    def _run(self, open_world: Callable[[], AbstractAsyncContextManager[T]]) -> None:
        try:
            in_virtual_time(self._serve, open_world)
        except BaseException as error:  # noqa: BLE001 - handed to the test, which raises it
            self._answered.put(error)

    async def _serve(self, open_world: Callable[[], AbstractAsyncContextManager[T]]) -> None:
        async with open_world() as world:
            self._answered.put(world)
            while (step := self._asked.get()) is not None:
                await step(world)
                self._answered.put(None)

    def _answer(self) -> Any:
        answer = self._answered.get(timeout=60)
        if isinstance(answer, BaseException):
            raise answer
        return answer

    def do(self, step: Callable[[T], Awaitable[object]]) -> None:
        """Let one step be taken in the loop, and wait for it."""
        self._asked.put(step)
        self._answer()

    def end(self) -> None:
        self._asked.put(None)
        self._thread.join(timeout=60)
