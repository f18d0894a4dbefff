"""The event loop of servers that watch their own sockets."""

from __future__ import annotations

import asyncio
from collections.abc import Coroutine
from typing import Any, TypeVar

T = TypeVar("T")


def run_watching(work: Coroutine[Any, Any, T]) -> T:
    """As ``asyncio.run``, by a loop that can watch any socket: the usual one but on Windows, whose
    own usual one cannot (``add_reader``)."""
    with asyncio.Runner(loop_factory=asyncio.SelectorEventLoop) as runner:
        return runner.run(work)
