"""Pieces of work shared with this machine's other cores, where there is enough to do.

This process works on all the while, from the first piece forward; its helpers have them from the
last one back. Where they meet, all is done. What comes of a piece does not hang on who did it, so
neither does anything that is made of them.
"""

from __future__ import annotations

import multiprocessing
import os
import time
from collections import deque
from collections.abc import Iterable, Iterator
from concurrent.futures import BrokenExecutor, Future, ProcessPoolExecutor
from contextlib import contextmanager
from multiprocessing.context import BaseContext
from typing import TypeAlias

from feedscript.check.in_pieces.at_worker import kept_case
from feedscript.check.in_pieces.cases import AnyCase
from feedscript.check.in_pieces.pieces import Answer, Piece
from feedscript.check.in_pieces.work import work
from feedscript.host.child_process import end_with_parent

_Asked: TypeAlias = tuple[AnyCase, Piece]

#: Less than this still to do is done sooner than a helper is there. Design value: where helpers
#: are not forked, each first imports what it needs for half a second.
WORTH_S = 1.0
#: Pieces that a helper has at once.
_AHEAD = 2


def cores() -> int:
    """How many cores this process may use."""
    return len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1


def context() -> BaseContext:
    """A forked process inherits what its parent has worked out; elsewhere each begins anew."""
    ways = multiprocessing.get_all_start_methods()
    return multiprocessing.get_context("fork" if "fork" in ways else "spawn")


@contextmanager
def shared(
    helpers: int, *, worth_s: float = WORTH_S, began_as: BaseContext | None = None
) -> Iterator[OnCores]:
    """Workers of this machine while they are needed: this process, and so many helpers once more
    than ``worth_s`` of work is to come."""
    found = OnCores(helpers, worth_s, began_as or context())
    try:
        yield found
    finally:
        found.end()


class OnCores:
    """See the module. To be had by :func:`shared`."""

    def __init__(self, helpers: int, worth_s: float, began_as: BaseContext) -> None:
        self._helpers, self._worth_s, self._began_as = helpers, worth_s, began_as
        self._pool: ProcessPoolExecutor | None = None

    def answers(self, asked: Iterable[_Asked]) -> Iterator[Answer]:
        """What came of each piece, in the order in which they were asked for."""
        left, done, began_s = deque(asked), 0, time.monotonic()
        while left:
            if self._is_worth(done, time.monotonic() - began_s, len(left)):
                yield from self._with_helpers(left)
                return
            yield work(*left.popleft())
            done += 1

    def _is_worth(self, done: int, took_s: float, left: int) -> bool:
        """As far as can be told from what was done; helpers that are there are asked at once."""
        if self._helpers == 0 or left < 2:
            return False
        to_come_s = took_s / done * left if done else 0.0
        return self._pool is not None or to_come_s >= self._worth_s

    def _with_helpers(self, left: deque[_Asked]) -> Iterator[Answer]:
        helped: list[tuple[_Asked, Future[Answer]]] = []  # the last piece first
        while left:
            self._hand_out(left, helped)
            yield work(*left.popleft())
        for asked, future in reversed(helped):
            yield self._of_helper(asked, future)

    def _hand_out(self, left: deque[_Asked], helped: list[tuple[_Asked, Future[Answer]]]) -> None:
        """The last of the pieces that are left, never all: to each helper one to work at, and one
        to go on with.

        They are not all handed out and taken back again, since an executor of CPython 3.11 whose
        process dies stumbles over what was taken back.
        """
        under_way = sum(not future.done() for _, future in helped)
        for _ in range(min(_AHEAD * self._helpers - under_way, len(left) - 1)):
            case, piece = left[-1]
            try:
                future = self._helpers_there().submit(_worked, case.data, piece)
            except (BrokenExecutor, OSError):  # a helper was ended, or none can be had
                self._helpers = 0
                return
            helped.append((left.pop(), future))

    def _helpers_there(self) -> ProcessPoolExecutor:
        if self._pool is None:
            self._pool = ProcessPoolExecutor(
                self._helpers, mp_context=self._began_as, initializer=end_with_parent
            )
        return self._pool

    def _of_helper(self, asked: _Asked, future: Future[Answer]) -> Answer:
        try:
            return future.result()
        except BrokenExecutor:  # what a helper had that was ended is done here
            self._helpers = 0
            return work(*asked)

    def end(self) -> None:
        """No helper is left."""
        if self._pool is not None:
            self._pool.shutdown()


def _worked(data: bytes, piece: Piece) -> Answer:
    return work(kept_case(data), piece)
