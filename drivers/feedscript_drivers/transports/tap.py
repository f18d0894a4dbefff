"""The one tap that every byte of every transport passes: it can keep a copy.

A capture is text, one piece a line: seconds since opening, ``>`` to the launcher or ``<`` from it,
and the bytes with everything but plain characters as ``%XX``. ``replay:`` plays one back.
"""

from __future__ import annotations

import contextlib
from collections.abc import AsyncIterator
from pathlib import Path
from typing import TextIO
from urllib.parse import quote_from_bytes

import anyio
from anyio.abc import ByteStream

from feedscript.diagnostics import Page
from feedscript.launcher.port import LauncherError
from feedscript.override import override

CAPTURE_HEADER = "feedscript capture 1"
_PLAIN = " !*#+,-./:;<=>?@_~"

CAPTURE = Page(
    slug="capture-file",
    title="A capture that cannot be written or read",
    why="A capture holds every byte of a link, for a report or to be played back by `replay:`.",
)


class CapturedStream(ByteStream):
    """A stream that writes down what crosses it."""

    def __init__(self, inner: ByteStream, file: TextIO) -> None:
        self._inner = inner
        self._file = file
        self._opened_s = anyio.current_time()

    def _note(self, direction: str, data: bytes) -> None:
        at_s = anyio.current_time() - self._opened_s
        self._file.write(f"{at_s:.4f} {direction} {quote_from_bytes(data, safe=_PLAIN)}\n")

    @override
    async def send(self, item: bytes) -> None:
        self._note(">", item)
        await self._inner.send(item)

    @override
    async def receive(self, max_bytes: int = 65536) -> bytes:
        data = await self._inner.receive(max_bytes)
        self._note("<", data)
        return data

    @override
    async def send_eof(self) -> None:
        await self._inner.send_eof()

    @override
    async def aclose(self) -> None:
        await self._inner.aclose()


@contextlib.asynccontextmanager
async def transport_tap(stream: ByteStream, capture: Path | None) -> AsyncIterator[ByteStream]:
    """The stream, copied to ``capture`` if that is given; a file that is there is refused."""
    if capture is None:
        yield stream
        return
    try:
        # Line by line, so that a killed host leaves all but the last piece behind.
        # A file that is there may be the only trace of what went wrong: it is never overwritten.
        file = open(capture, "x", encoding="ascii", buffering=1)  # noqa: SIM115 - closed below
    except OSError as error:
        raise LauncherError(
            CAPTURE.report(
                f"the capture cannot be written: {error.strerror}",
                help="name a file that does not exist yet, in a folder that may be written",
                device=str(capture),
            )
        ) from error
    with file:
        file.write(CAPTURE_HEADER + "\n")
        yield CapturedStream(stream, file)
