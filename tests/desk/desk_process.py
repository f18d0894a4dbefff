"""A desk as a coach starts it: the command in a process of its own, and a real browser on it."""

from __future__ import annotations

import re
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

COMMAND = [sys.executable, "-u", "-c", "from feedscript.cli import main; main()", "desk"]


@contextmanager
def desk_on(folder: Path) -> Iterator[str]:
    """The one-time link of a desk that serves a folder."""
    process = subprocess.Popen(
        [*COMMAND, str(folder), "--no-browser"], stdout=subprocess.PIPE, text=True
    )
    try:
        assert process.stdout is not None
        found = re.search(r"http\S+", process.stdout.readline())
        assert found is not None
        yield found[0]
    finally:
        process.terminate()
        process.wait(10)
        assert process.stdout is not None
        process.stdout.close()
