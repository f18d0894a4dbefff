"""Standard input, key by key or as it is typed and piped.

POSIX lets the event loop wait for it. Windows does not: there a thread looks at the console
(``msvcrt``) or reads the pipe.
"""

from __future__ import annotations

import os
import sys
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager

import anyio

from feedscript.host.reading import CHUNK, Read

_STANDARD_INPUT = 0


@asynccontextmanager
async def keys() -> AsyncIterator[Read]:
    """Each key at once, unechoed, as a terminal sends it (UTF-8, ECMA-48 sequences).

    Afterwards the terminal is as it was. Meanwhile Ctrl-Z and Ctrl-S do nothing: a lesson that is
    suspended, or that waits for a paused screen, would leave its launchers without a host.
    """
    if sys.platform == "win32":
        from feedscript.host.windows_console import console_keys

        async with console_keys() as read:
            yield read
    else:
        from feedscript.host.posix_terminal import key_by_key

        with key_by_key(_STANDARD_INPUT):
            yield _read_posix


@asynccontextmanager
async def typed() -> AsyncIterator[Read]:
    """Standard input as it is: lines of a terminal, or whatever a pipe brings."""
    if sys.platform == "win32":
        from feedscript.host.windows_console import piped

        async with piped(_STANDARD_INPUT) as read:
            yield read
    else:
        yield _read_posix


async def _read_posix() -> bytes:
    try:
        await anyio.wait_readable(_STANDARD_INPUT)
        return os.read(_STANDARD_INPUT, CHUNK)
    except OSError:  # the window is gone; or a plain file, which nobody types into
        return b""
