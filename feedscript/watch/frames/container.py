"""The file that holds pictures and sound, opened so that nothing else is opened with it."""

from __future__ import annotations

import os
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any, NoReturn

import av
import av.container

from feedscript.diagnostics import FeedscriptError
from feedscript.plain_file import see_that_it_is_a_file
from feedscript.watch.frames.pages import VIDEO_UNUSABLE

#: What cameras and phones write. Lists that name other files are left out on purpose.
FORMATS = "mov,mp4,m4a,3gp,3g2,mj2,matroska,webm,avi,mpegts,mpeg,asf,flv,ogg,dv,wav,mp3,aac,flac"
#: Larger pictures are refused before memory is asked for them: a little over 7680 by 4320.
MOST_PIXELS = 36_000_000
_BUFFER_BYTES = 1 << 18

#: What reading a damaged file raises: not all of it is the library's own.
BROKEN = (av.FFmpegError, OSError, ValueError, IndexError, OverflowError, MemoryError)


@contextmanager
def opened(path: Path) -> Iterator[av.container.InputContainer]:
    """The file, closed at the end. Raises FeedscriptError (``video-unusable``)."""
    try:
        see_that_it_is_a_file(path)
        if not path.stat().st_size:
            raise unusable(path, "the file is empty")
        file = path.open("rb")
    except OSError as trouble:
        raise unusable(path, f"the file cannot be opened: {trouble.strerror}") from trouble
    with file:
        container = _container(path, file)
        try:
            yield container
        finally:
            container.close()


def _container(path: Path, file: Any) -> av.container.InputContainer:
    options = {"format_whitelist": FORMATS, "max_pixels": str(MOST_PIXELS)}
    try:
        container: av.container.InputContainer = av.open(
            file,
            mode="r",
            options=options,
            io_open=_open_nothing_else,
            metadata_errors="replace",
            buffer_size=_BUFFER_BYTES,
        )
        return container
    except BROKEN as trouble:
        cut = _has_pictures_without_table(path)
        cause = "the table of its pictures is missing, as in a file that was cut" if cut else None
        words = cause or "it is no video, or of a kind that is not read here"
        raise unusable(path, f"{words} ({reason(trouble)})") from trouble


def _open_nothing_else(url: str, *_: Any) -> NoReturn:
    raise PermissionError(f"{url} is not opened: only the video itself is read")


def _has_pictures_without_table(path: Path) -> bool:
    """Whether it is laid out in the boxes of ISO/IEC 14496-12, and has data but no table."""
    kinds: set[bytes] = set()
    at, size = 0, path.stat().st_size
    with path.open("rb") as file:
        while at + 8 <= size and len(kinds) < 64:
            file.seek(at)
            head = file.read(16)
            length, kind = int.from_bytes(head[:4], "big"), head[4:8]
            if length == 1:
                length = int.from_bytes(head[8:16], "big")
            kinds.add(kind)
            if length < 8:
                break
            at += length
    return b"ftyp" in kinds and b"moov" not in kinds


def reason(trouble: BaseException) -> str:
    """The library's own words, without its number and the file's name."""
    words = getattr(trouble, "strerror", None) or str(trouble) or type(trouble).__name__
    return str(words).splitlines()[0]


def unusable(path: Path, message: str) -> FeedscriptError:
    return FeedscriptError(
        VIDEO_UNUSABLE.report(
            message,
            device=os.fspath(path),
            help="give the file as the camera saved it (MP4 or MOV, say), copied again if need be",
        )
    )
