"""How a process is asked to end: Ctrl-C, another program, a window that closes.

POSIX has a signal for each. On Windows the console tells a thread of its own
(SetConsoleCtrlHandler) and, where its window is closed or the user logs off, ends the process as
soon as that thread returns; it is held until the work is over, for as long as the system allows.
"""

from __future__ import annotations

import signal
import sys
from collections.abc import AsyncIterator, Iterator
from contextlib import contextmanager

import anyio

from feedscript.host.ended_by import EndedBy


@contextmanager
def endings() -> Iterator[AsyncIterator[EndedBy]]:
    """Each wish for an end while the context lasts; none of them ends the process by itself.

    To be entered from the main thread's event loop.
    """
    if sys.platform == "win32":
        from feedscript.host.windows_endings import console_endings

        with console_endings() as found:
            yield found
    else:
        means = {
            signal.SIGINT: EndedBy.PERSON,
            signal.SIGTERM: EndedBy.PROGRAM,
            signal.SIGHUP: EndedBy.WINDOW,
        }
        with anyio.open_signal_receiver(*means) as signals:
            yield (means[number] async for number in signals)


def stay_when_suspended() -> None:
    """Ctrl-Z at the terminal suspends whoever began this process, and not this process."""
    if sys.platform != "win32":
        signal.signal(signal.SIGTSTP, signal.SIG_IGN)
