"""Writes lines from a thread of its own: a pipe that nobody reads keeps no lesson waiting."""

from __future__ import annotations

import queue
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from typing import TextIO

from feedscript.host import streams

#: A pipe that has not taken the last lines in this time after the end is left as it is.
PATIENCE_S = 1.0


class LineWriter:
    """Lines in their order. Whoever reads may be slow, or gone: then they wait, or go nowhere."""

    def __init__(self, out: TextIO) -> None:
        self._out = out
        self._waiting: queue.SimpleQueue[str | None] = queue.SimpleQueue()
        self._thread = threading.Thread(target=self._run, name="line writer", daemon=True)

    def write(self, text: str) -> None:
        self._waiting.put(text)

    def start(self) -> None:
        self._thread.start()

    def close(self) -> None:
        self._waiting.put(None)
        self._thread.join(PATIENCE_S)

    def _run(self) -> None:
        try:
            while (text := self._waiting.get()) is not None:
                streams.put(self._out, text)
        except OSError:
            return  # nobody is there to read it; the lesson goes on


@contextmanager
def writing_lines(out: TextIO) -> Iterator[LineWriter]:
    """A writer for as long as the context lasts."""
    writer = LineWriter(out)
    writer.start()
    try:
        yield writer
    finally:
        writer.close()
