"""What is kept of the people on court, and how it is copied, thrown away or forgotten.

The journal holds names only where the coach wrote them, on this machine alone. Children's data:
keep little. Letters do as well as names, a name can be taken out of every lesson at any time, and
old lessons can be thrown away.
"""

from __future__ import annotations

import os
import sqlite3
import time
from collections.abc import Iterator, Sequence
from contextlib import ExitStack, contextmanager
from pathlib import Path

import msgspec

from feedscript.diagnostics import FeedscriptError, Page
from feedscript.journal.clips import delete_clips, forget_shots, lessons_with
from feedscript.journal.lease import lease
from feedscript.journal.redaction import player_names, replace_everywhere, without_names
from feedscript.journal.schema import JOURNAL_UNUSABLE
from feedscript.journal.store import Journal, open_journal, read_journal, reported

COPY_REFUSED = Page(
    slug="copy-refused",
    title="A copy of the journal is not written over another file",
    why="A backup that replaces what lies there could destroy the only other copy.",
)

NOBODY_TO_FORGET = Page(
    slug="nobody-to-forget",
    title="No player of this name is in the journal",
    why=(
        "A name that is spelt otherwise in the journal would stay in it, so forgetting says when "
        "it found nothing to take out."
    ),
)

NOTHING_TO_DELETE = Page(
    slug="nothing-to-delete",
    title="The journal holds no such lesson to delete",
    why="Lessons are deleted by their number in the journal, all that are named or none.",
)


def back_up(journal_path: Path, target: Path) -> None:
    """Write a whole, consistent copy of the journal to a new file, also while a lesson runs.

    Raises FeedscriptError when the target exists or cannot be written, or the journal is damaged;
    then no copy is left behind.
    """
    if os.path.lexists(target):
        raise FeedscriptError(
            COPY_REFUSED.report(
                "the file exists already", device=str(target), help="name a file that does not"
            )
        )
    journal = read_journal(journal_path)
    try:
        journal.copy_to(target)
    except FeedscriptError:
        target.unlink(missing_ok=True)
        raise
    finally:
        journal.close()


class Forgotten(msgspec.Struct, frozen=True):
    """What held a name that was taken out, counted as it was taken out."""

    lessons: int  # titles, lists of players, plans
    balls: int
    notes: int  # calls, and changes of the group
    shots: int = 0  # what films suggested of the player's shots: thrown away
    clips: int = 0  # files, of all lessons in which the player was: thrown away


def forget_player(journal_path: Path, name: str) -> Forgotten:
    """Take one player's name out of every lesson; the records that held it.

    The balls stay, as those of a forgotten player; what films suggested of the player's shots, and
    the clips of the lessons in which the player was, go. The journal's old bytes are overwritten,
    not only unlinked. A plan that named the player no longer matches its certificate, so a lesson
    broken off with that player on the roster cannot be resumed afterwards. Raises FeedscriptError
    when the name is nowhere in the journal, another program keeps old bytes in use, or a clip
    cannot be deleted.
    """
    clips = delete_clips(journal_path, _lessons_of(journal_path, name))
    with _rewritten(journal_path) as connection:
        names = player_names(connection.execute)
        for number in lessons_with(connection.execute, name):
            connection.execute("DELETE FROM clip WHERE session_id = ?", (number,))
        shots = forget_shots(connection, name)
        changed = replace_everywhere(connection, without_names([name], known=names))
        if not changed:
            known = ", ".join(sorted(names)) or "nobody"
            raise FeedscriptError(
                NOBODY_TO_FORGET.report(
                    f"{name!r} is nowhere in the journal",
                    device=str(journal_path),
                    help=f"players in it: {known}",
                )
            )
    return Forgotten(changed["session"], changed["ball"], changed["entry"], shots, clips)


def _lessons_of(journal_path: Path, name: str) -> list[int]:
    journal = read_journal(journal_path)
    try:
        return lessons_with(journal.rows, name)
    finally:
        journal.close()


def forget_everyone(journal_path: Path) -> None:
    """Take out every player's name, and the folders that the programs lay in."""
    with _rewritten(journal_path) as connection:
        forget_shots(connection)
        connection.execute("DELETE FROM clip")
        replace_everywhere(connection, without_names(player_names(connection.execute)))
        for number, source in connection.execute("SELECT id, source FROM session").fetchall():
            bare = Path(source).name
            connection.execute("UPDATE session SET source = ? WHERE id = ?", (bare, number))


def names_in(journal_path: Path) -> set[str]:
    """Every name of a player that stands anywhere in a journal."""
    journal = read_journal(journal_path)
    try:
        return player_names(journal.rows)
    finally:
        journal.close()


def delete_lessons(journal_path: Path, numbers: Sequence[int]) -> int:
    """Throw whole lessons away, and their clips; how many balls went with them.

    Raises FeedscriptError when one of the lessons is not there, or still runs; then none goes.
    """
    with ExitStack() as stack:
        for number in set(numbers):
            stack.enter_context(lease(str(journal_path), number, time.time()))
        return _delete(journal_path, numbers)


def _delete(journal_path: Path, numbers: Sequence[int]) -> int:
    with _rewritten(journal_path) as connection:
        held = {row[0] for row in connection.execute("SELECT id FROM session")}
        missing = sorted(set(numbers) - held)
        if missing or not numbers:
            raise FeedscriptError(
                NOTHING_TO_DELETE.report(
                    f"there is no lesson {missing[0]}" if missing else "no lesson is that old",
                    device=str(journal_path),
                    help="`feedscript journal list` shows the lessons and their numbers",
                )
            )
        delete_clips(journal_path, numbers)
        gone = 0
        for number in numbers:
            for table in ("clip", "shot", "landing", "film", "result", "entry", "ball"):
                query = f"DELETE FROM {table} WHERE session_id = ?"
                rows = connection.execute(query, (number,)).rowcount
                gone += rows if table == "ball" else 0
            connection.execute("DELETE FROM session WHERE id = ?", (number,))
    return gone


@contextmanager
def _rewritten(journal_path: Path) -> Iterator[sqlite3.Connection]:
    """A transaction after which nothing of the old content is left in the file or beside it."""
    read_journal(journal_path).close()  # a file that is not there is not made
    journal = open_journal(journal_path)
    try:
        with reported(journal.path), journal.rewriting() as connection:
            yield connection
        _sweep(journal)
    finally:
        journal.close()


def _sweep(journal: Journal) -> None:
    """Overwrite what the change left behind: free pages, and the write-ahead log."""
    journal.rows("PRAGMA temp_store = MEMORY")  # no copy in the system's folder for such files
    journal.rows("VACUUM")
    if journal.rows("PRAGMA wal_checkpoint(TRUNCATE)")[0][0]:
        raise FeedscriptError(
            JOURNAL_UNUSABLE.report(
                "it is changed, but another program still has old pages of the journal in use",
                device=journal.path,
                help="end that program, then run the same command again",
            )
        )
