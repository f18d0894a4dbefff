"""Async code on a clock that jumps to whatever is due next, and the same way each time.

Of tasks that could go on at the same moment trio picks one by chance, unless it is told to keep to
an order: this is what hypothesis's own trio support does too.
"""

from __future__ import annotations

from collections.abc import Awaitable, Callable
from typing import TypeVar

import trio
import trio.testing

T = TypeVar("T")


def in_virtual_time(run: Callable[..., Awaitable[T]], *args: object, seed: int = 0) -> T:
    """Run to the end; the order of tasks that are due together comes from ``seed``."""
    trio._core._run._r.seed(seed)
    trio._core._run._ALLOW_DETERMINISTIC_SCHEDULING = True
    try:
        clock = trio.testing.MockClock(autojump_threshold=0)
        return trio.run(run, *args, clock=clock)
    finally:
        trio._core._run._ALLOW_DETERMINISTIC_SCHEDULING = False
