"""A process that works for the one that began it: it ends as that one says, and not without it."""

from __future__ import annotations

import multiprocessing
import multiprocessing.connection
import os
import signal
import threading


def end_with_parent() -> None:
    """For a process of multiprocessing: Ctrl-C at the terminal, which all its processes hear, is
    its parent's to answer; and one whose parent is gone, however it ended, is wanted no more."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    parent = multiprocessing.parent_process()
    assert parent is not None

    def wait() -> None:
        multiprocessing.connection.wait([parent.sentinel])
        os._exit(0)

    threading.Thread(target=wait, daemon=True).start()
