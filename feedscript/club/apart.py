"""Processes beside the server's own, for what takes long: they give way to it, take so much and no
more, and are given no secret of the club's."""

from __future__ import annotations

import os

from feedscript.host.bounds import bound_this_process
from feedscript.one_thread import ONE_THREAD

#: It gives way to the server's own process, which hears of STOPs (``nice``).
GIVES_WAY = 10
#: The memory that one may ask for, bytes, and the largest file that it may write. Design values: a
#: desk with an hour's lesson open takes a quarter of it.
MOST_MEMORY, MOST_FILE = 1_500_000_000, 100_000_000
#: What one needs of the server's surroundings.
_KEPT = ("PATH", "LANG", "LC_ALL", "PYTHONPATH", "SYSTEMROOT", "TMPDIR", "TEMP", "TZ")


def surroundings(**own: str) -> dict[str, str]:
    """The variables that such a process is given, with ``own`` ones. It takes one processor."""
    kept = {name: os.environ[name] for name in _KEPT if name in os.environ}
    return kept | ONE_THREAD | own


def be_bounded() -> None:
    """From inside such a process, before it does anything."""
    bound_this_process(memory_bytes=MOST_MEMORY, file_bytes=MOST_FILE, gives_way=GIVES_WAY)
