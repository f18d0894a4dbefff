"""The stand-in on a pseudo-terminal: what a serial driver opens like any port."""

from __future__ import annotations

import contextlib
import os
import sys
from collections.abc import AsyncIterator, Callable

import anyio

if sys.platform == "win32":
    raise ImportError("Windows has no pseudo-terminals")
import tty

from feedscript_simulator.faults import SOUND, LineFaults
from feedscript_simulator.links.driven import Driven
from feedscript_simulator.links.faulty_line import one_way
from feedscript_simulator.stand_in import StandIn

_CHUNK = 4096


@contextlib.asynccontextmanager
async def on_pty(stand_in: StandIn, faults: LineFaults = SOUND) -> AsyncIterator[str]:
    """Serve on a fresh pty, over a line with these faults; yields the device to open. Leaving the
    block closes it."""
    ours, theirs = os.openpty()
    # Held open so that the host may close its port and open it again.
    tty.setraw(theirs)
    os.set_blocking(ours, False)
    driven = Driven(stand_in, lambda _bytes: None)
    try:
        async with (
            one_way(_writer(ours), faults, f"back {stand_in.seed}") as driven.on_output,
            one_way(driven.receive, faults, f"out {stand_in.seed}") as hear,
            anyio.create_task_group() as tasks,
        ):
            tasks.start_soon(driven.keep_time)
            tasks.start_soon(_read, ours, hear)
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


async def _read(descriptor: int, hear: Callable[[bytes], None]) -> None:
    while True:
        await anyio.wait_readable(descriptor)
        with contextlib.suppress(BlockingIOError):
            hear(os.read(descriptor, _CHUNK))
