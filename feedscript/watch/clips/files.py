"""The pictures of a lesson's balls as files: only where asked for, and not without end."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable
from pathlib import Path

import cv2
import msgspec

from feedscript.host.private_file import private_folder, write_private
from feedscript.watch.clips.moving import clip_of
from feedscript.watch.clips.strip import Picture, strip_of
from feedscript.watch.clips.way import Way
from feedscript.watch.frames.video import Video

#: So many balls at most are written, and so much altogether. Design values: an hour's lesson.
MOST_BALLS, MOST_BYTES = 400, 1_000_000_000
_OURS = re.compile(r"ball-\d+\.(jpg|mp4)")
_QUALITY = (cv2.IMWRITE_JPEG_QUALITY, 85)


class Written(msgspec.Struct, frozen=True):
    """How many balls have pictures in this folder now, and how many were left out, since there
    would be too many or too much."""

    folder: Path
    balls: int
    left_out: int


def as_jpeg(picture: Picture) -> bytes:
    done, data = cv2.imencode(".jpg", picture, _QUALITY)
    assert done  # a picture in memory, of three channels
    return data.tobytes()


def write_clips(
    folder: Path,
    video: Video,
    ways: Iterable[Way],
    progress: Callable[[float], None] | None = None,
    before: Callable[[int, str], None] | None = None,
) -> Written:
    """A strip (.jpg) and a clip (.mp4) of each ball, for their owner alone, in the place of those
    that were there before.

    ``progress`` is told how much is done, and may raise to give up; ``before`` of each file, by
    its ball and name, before it is written. Raises OSError, and FeedscriptError
    (``video-unusable``).
    """
    private_folder(folder)
    remove_clips(folder)
    ways = list(ways)
    balls = used = 0
    for done, way in enumerate(ways[:MOST_BALLS], 1):
        files = _files_of(video, way)
        used += sum(len(data) for data in files.values())
        if used > MOST_BYTES:
            break
        for name, data in files.items():
            if before is not None:
                before(way.number, name)
            write_private(folder / name, data)
        balls += bool(files)
        if progress is not None:
            progress(done / len(ways))
    else:
        done = len(ways[:MOST_BALLS]) + 1
    return Written(folder, balls, len(ways) - done + 1)


def _files_of(video: Video, way: Way) -> dict[str, bytes]:
    strip = strip_of(video, way)
    clip = None if strip is None else clip_of(video, way)
    found = {} if strip is None else {f"ball-{way.number}.jpg": as_jpeg(strip.whole)}
    return found if clip is None else found | {f"ball-{way.number}.mp4": clip}


def remove_clips(folder: Path) -> int:
    """Remove what ``write_clips`` wrote there, and nothing else; how many files. Raises OSError."""
    ours = [one for one in folder.glob("ball-*") if _OURS.fullmatch(one.name)]
    for one in ours:
        one.unlink()
    return len(ours)
