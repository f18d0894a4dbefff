"""Pictures that were kept of a lesson's balls: where they lie, and that they can be thrown away.

They lie beside their journal, a folder a lesson, each named by its ball. A clip may show whoever
stood about, not only whose turn it was: so a lesson's clips go all together, as soon as one of its
players is forgotten.
"""

from __future__ import annotations

import shutil
import sqlite3
from collections.abc import Callable, Iterable
from pathlib import Path
from typing import Annotated, Any

import msgspec

from feedscript.diagnostics import FeedscriptError, Page
from feedscript.journal.redaction import name_key, player_names
from feedscript.journal.store import Journal
from feedscript.journal.stored import FeedId, Utc, believed

CLIPS_STAY = Page(
    slug="clips-stay",
    title="Clips of a lesson cannot be deleted",
    why=(
        "Clips show people. They are deleted before a player is forgotten or a lesson deleted; "
        "where that fails, the journal is left as it is, so that the same command can be given "
        "again."
    ),
)


class ClipKept(msgspec.Struct, frozen=True, kw_only=True):
    """A file in the lesson's folder: a strip of pictures or a short film of one ball."""

    feed_id: FeedId
    file: Annotated[str, msgspec.Meta(pattern=r"^[0-9a-z][0-9a-z.-]{0,80}$")]
    utc_s: Utc  # when it was made


def clips_folder(journal_path: Path, number: int) -> Path:
    """Where the clips of a lesson lie: ``journal.sqlite`` has them in ``journal-clips``."""
    return journal_path.with_name(f"{journal_path.stem}-clips") / str(number)


def keep_clip(journal: Journal, number: int, clip: ClipKept) -> None:
    """Write down that a ball has this clip; the same file again is no other one."""
    known = {(one.feed_id, one.file) for one in clips_of(journal, number)}
    if (clip.feed_id, clip.file) not in known:
        journal.write("clip", {"session_id": number, **msgspec.structs.asdict(clip)})


def clips_of(journal: Journal, number: int) -> list[ClipKept]:
    """Every clip of a lesson, by its ball."""
    query = "SELECT * FROM clip WHERE session_id = ? ORDER BY feed_id, file"
    return believed(journal.path, number, journal.rows(query, (number,)), ClipKept)


def clips_there(journal: Journal, number: int) -> list[ClipKept]:
    """Those of a lesson's clips whose file is still there."""
    folder = clips_folder(Path(journal.path), number)
    return [one for one in clips_of(journal, number) if (folder / one.file).is_file()]


def delete_clips(journal_path: Path, numbers: Iterable[int]) -> int:
    """Delete the clips of these lessons, written down or not; how many files went.

    Raises FeedscriptError where one stays.
    """
    gone = 0
    for number in numbers:
        folder = clips_folder(journal_path, number)
        try:
            if folder.is_symlink():
                folder.unlink()
            elif folder.is_dir():
                gone += sum(one.is_file() for one in folder.rglob("*"))
                shutil.rmtree(folder)
        except OSError as trouble:
            raise FeedscriptError(
                CLIPS_STAY.report(
                    f"{folder}: {trouble.strerror or trouble}",
                    device=str(journal_path),
                    help="close what shows them, make the folder writable, and run this again",
                )
            ) from trouble
    return gone


def lessons_with(rows: Callable[..., Iterable[Any]], name: str) -> list[int]:
    """The lessons in which a player of this name has a ball, is in the group, or joined it;
    ``rows`` asks the journal."""
    key = name_key(name)
    numbers = [int(row[0]) for row in rows("SELECT id FROM session ORDER BY id", ())]
    return [one for one in numbers if key in map(name_key, player_names(rows, one))]


def forget_shots(connection: sqlite3.Connection, name: str | None = None) -> int:
    """Throw away what films suggested of a player's shots (everybody's); how many went."""
    if name is None:
        return connection.execute("DELETE FROM shot").rowcount
    key = name_key(name)
    query = "SELECT session_id, feed_id, player FROM ball WHERE player IS NOT NULL"
    theirs = [row[:2] for row in connection.execute(query) if name_key(row[2]) == key]
    delete = "DELETE FROM shot WHERE session_id = ? AND feed_id = ?"
    return sum(connection.execute(delete, ball).rowcount for ball in theirs)
