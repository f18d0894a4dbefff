"""``feedscript watch --clips``: pictures of each ball, in the journal's folder for that lesson.

There they are found, and deleted, with the record of whoever was in that lesson.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from pathlib import Path

import msgspec

from feedscript.cli.after.watch_balls import Balls, Seen
from feedscript.cli.output import writing
from feedscript.journal.clips import ClipKept, clips_folder, keep_clip
from feedscript.journal.store import open_journal
from feedscript.watch.clips.files import write_clips


def with_clips(
    seen: Seen, balls: Balls, journal_path: Path, progress: Callable[[float], None] | None
) -> Balls:
    """The balls, with what was written of them. Each file stands in the journal before it is on
    the disk, so that none is left over when the lesson's are deleted."""
    number = balls.found.lesson
    assert number is not None  # the option goes with a lesson
    folder = clips_folder(journal_path, number)
    journal = open_journal(journal_path)
    try:

        def keep(ball: int, file: str) -> None:
            keep_clip(journal, number, ClipKept(feed_id=ball, file=file, utc_s=time.time()))

        with writing(folder):
            written = write_clips(folder, seen.film, balls.ways, progress, keep)
    finally:
        journal.close()
    return msgspec.structs.replace(balls, clips=written)
