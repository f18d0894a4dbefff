"""Windows' console and pipes, read by threads.

The second codes of keys that are no character are the console's scan codes (Microsoft, "_getch,
_getwch", C runtime reference, 2024: such a key gives 0 or 0xE0 first; the codes themselves from
memory).
"""

from __future__ import annotations

import _thread
import os
import sys
import threading
from collections.abc import AsyncIterator, Callable
from contextlib import asynccontextmanager

from feedscript.host.mailbox import Mailbox
from feedscript.host.reading import CHUNK, Read

if sys.platform != "win32":
    raise ImportError("these are Windows' own")

import msvcrt

#: How often the console is asked for a key: a stop waits so long at most before it is seen. Design
#: value.
LOOK_S = 0.005

_FIRST_OF_TWO = ("\x00", "\xe0")
#: What a terminal sends for the same key.
_SECOND = {
    "H": "\x1b[A",
    "P": "\x1b[B",
    "M": "\x1b[C",
    "K": "\x1b[D",
    "I": "\x1b[5~",
    "Q": "\x1b[6~",
}
_CTRL_C = "\x03"


@asynccontextmanager
async def console_keys() -> AsyncIterator[Read]:
    """Each key of the console, until the context ends."""
    over = threading.Event()
    async with _from_thread("keys", lambda put: _look(put, over)) as read:
        try:
            yield read
        finally:
            over.set()


@asynccontextmanager
async def piped(descriptor: int) -> AsyncIterator[Read]:
    """What is read from a descriptor. A read that waits for ever is left to the process's end."""
    async with _from_thread("standard input", lambda put: _read(put, descriptor)) as read:
        yield read


@asynccontextmanager
async def _from_thread(
    name: str, work: Callable[[Callable[[bytes], None]], None]
) -> AsyncIterator[Read]:
    box = Mailbox[bytes]()
    threading.Thread(target=work, args=(box.put,), name=name, daemon=True).start()
    try:
        yield box.take
    finally:
        box.close()


def _look(put: Callable[[bytes], None], over: threading.Event) -> None:
    try:
        while not over.wait(LOOK_S):
            while msvcrt.kbhit():
                _take(put, msvcrt.getwch())
    except OSError:  # the console is gone
        put(b"")


def _take(put: Callable[[bytes], None], key: str) -> None:
    if key == _CTRL_C:  # pressed in the moment in which the console gave keys raw
        _thread.interrupt_main()
    elif key in _FIRST_OF_TWO:
        put(_SECOND.get(msvcrt.getwch(), "").encode() or b"\x00")
    else:
        put(key.encode("utf-8", "ignore"))


def _read(put: Callable[[bytes], None], descriptor: int) -> None:
    data = b"-"
    while data:
        try:
            data = os.read(descriptor, CHUNK)
        except OSError:
            data = b""
        put(data)
