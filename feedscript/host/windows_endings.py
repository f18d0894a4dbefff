"""Windows' ways to end a process, as wishes.

Ctrl-C and Ctrl-Break are signals of the C runtime. A closed window, a log-off and a shutdown come
to a console handler (Microsoft, "HandlerRoutine callback function", 2021: the process ends when the
handler returns, or after a time-out of 5 s for a closed window).
"""

from __future__ import annotations

import signal
import sys
import threading
from collections.abc import AsyncIterator, Iterator
from contextlib import contextmanager

import anyio

from feedscript.host.ended_by import EndedBy
from feedscript.host.mailbox import Mailbox

if sys.platform != "win32":
    raise ImportError("these are Windows' own")

import ctypes
from ctypes import wintypes

#: Events of a console: Microsoft, "HandlerRoutine callback function", 2021.
_WINDOW_EVENTS = (2, 5, 6)  # CTRL_CLOSE_EVENT, CTRL_LOGOFF_EVENT, CTRL_SHUTDOWN_EVENT
#: A little less than Windows gives a process whose window was closed.
LEFT_S = 4.5

_MEANS = {
    signal.SIGINT: EndedBy.PERSON,
    signal.SIGBREAK: EndedBy.PERSON,
    signal.SIGTERM: EndedBy.PROGRAM,
}


@contextmanager
def console_endings() -> Iterator[AsyncIterator[EndedBy]]:
    """As :func:`feedscript.host.endings.endings`."""
    box = Mailbox[EndedBy]()
    before = {
        number: signal.signal(number, lambda told, _frame: box.put(_MEANS[signal.Signals(told)]))
        for number in _MEANS
    }
    try:
        with _window_told(box):
            yield _each(box)
    finally:
        box.close()
        for number, handler in before.items():
            signal.signal(number, handler)


async def _each(box: Mailbox[EndedBy]) -> AsyncIterator[EndedBy]:
    while True:
        try:
            yield await box.take()
        except anyio.ClosedResourceError:
            return


@contextmanager
def _window_told(box: Mailbox[EndedBy]) -> Iterator[None]:
    """A closing window is told, and this process held until the context has ended."""
    over = threading.Event()

    def handle(event: int) -> bool:
        if event not in _WINDOW_EVENTS:
            return False  # the C runtime's
        box.put(EndedBy.WINDOW)
        over.wait(LEFT_S)
        return True

    kernel = ctypes.WinDLL("kernel32", use_last_error=True)
    handler = ctypes.WINFUNCTYPE(wintypes.BOOL, wintypes.DWORD)(handle)  # kept while it is set
    kernel.SetConsoleCtrlHandler(handler, True)
    try:
        yield
    finally:
        over.set()
        kernel.SetConsoleCtrlHandler(handler, False)
