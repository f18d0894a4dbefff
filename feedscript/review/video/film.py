"""A copy of a film with chapters in it: its pictures and its sound stay as they are."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction
from pathlib import Path
from typing import TYPE_CHECKING

import av
import av.container

from feedscript.diagnostics import FeedscriptError
from feedscript.review.video.chapters import FILM_NOT_COPIED, Chapter
from feedscript.watch.frames.container import BROKEN, opened

if TYPE_CHECKING:
    from av.container.core import Chapter as Kept


def write_with_chapters(film: Path, out: Path, title: str, chapters: Sequence[Chapter]) -> None:
    """The copy. Raises FeedscriptError (``video-unusable``, ``film-not-copied``)."""
    with opened(film) as source:
        length_ms = None if source.duration is None else source.duration // 1000
        try:
            with av.open(str(out), "w") as copy:
                copy.metadata["title"] = title
                within = _within(title, chapters, length_ms)
                copy.set_chapters([_plain(number, one) for number, one in enumerate(within, 1)])
                _copy(source, copy)
        except BROKEN as trouble:
            raise _not_copied(film, out, str(trouble)) from trouble


def _within(title: str, chapters: Sequence[Chapter], length_ms: int | None) -> list[Chapter]:
    """Those that begin while the film lasts, and one before them.

    Chapters of .mp4 are samples of a track, one after the other from its beginning: without one
    there the first of ours would begin there.
    """
    there = [one for one in chapters if length_ms is None or one.start_ms < length_ms]
    before = there[0].start_ms if there else 0
    return [Chapter(0, before, title), *there] if before else there


def _plain(number: int, one: Chapter) -> Kept:
    return {
        "id": number,
        "start": one.start_ms,
        "end": one.end_ms,
        "time_base": Fraction(1, 1000),
        "metadata": {"title": one.title},
    }


def _copy(source: av.container.InputContainer, copy: av.container.OutputContainer) -> None:
    kept = [one for one in source.streams if one.type in ("video", "audio")]
    streams = {one.index: copy.add_stream_from_template(one) for one in kept}
    for packet in source.demux(*kept):
        if packet.dts is not None:  # the last one of each only says that there are no more
            packet.stream = streams[packet.stream.index]
            copy.mux(packet)


def _not_copied(film: Path, out: Path, why: str) -> FeedscriptError:
    help_words = "write .mkv, which holds most kinds; or -o FILE.ffmetadata, for ffmpeg"
    return FeedscriptError(
        FILM_NOT_COPIED.report(
            f"{film} cannot be copied into {out}: {why}", help=help_words, device=str(film)
        )
    )
