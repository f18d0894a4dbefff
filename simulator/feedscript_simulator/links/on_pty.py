"""The stand-in on a pseudo-terminal: what a serial driver opens like any port."""

from __future__ import annotations

import contextlib
import os
import tty
from collections.abc import AsyncIterator, Callable

import anyio

from feedscript_simulator.links.driven import Driven
from feedscript_simulator.stand_in import StandIn

_CHUNK = 4096


@contextlib.asynccontextmanager
async def on_pty(stand_in: StandIn) -> AsyncIterator[str]:
    """Serve on a fresh pty; yields the device to open. Leaving the block closes it."""
    ours, theirs = os.openpty()
    # Held open so that the host may close its port and open it again.
    tty.setraw(theirs)
    os.set_blocking(ours, False)
    driven = Driven(stand_in, _writer(ours))
    try:
        async with anyio.create_task_group() as tasks:
            tasks.start_soon(driven.keep_time)
            tasks.start_soon(_read, ours, driven)
            yield os.ttyname(theirs)
            tasks.cancel_scope.cancel()
    finally:
        os.close(ours)
        os.close(theirs)


def _writer(descriptor: int) -> Callable[[bytes], None]:
    def write(data: bytes) -> None:
        # A host that does not read loses bytes, as on a real line.
        with contextlib.suppress(BlockingIOError):
            os.write(descriptor, data)

    return write


async def _read(descriptor: int, driven: Driven) -> None:
    while True:
        await anyio.wait_readable(descriptor)
        with contextlib.suppress(BlockingIOError):
            driven.receive(os.read(descriptor, _CHUNK))
