"""What lies on one coach's desk: a folder with what the coach has saved and what the club's library
has, so that programs use one another there as they do on a coach's own computer.

The store is what counts; the folder is a copy of it, private to the server, and goes with the desk.
"""

from __future__ import annotations

import os
import threading
from collections.abc import Callable, Iterable, Sequence
from contextlib import suppress
from pathlib import Path

from feedscript import club_library
from feedscript.club.refusals import DESK_NOT_HEARD
from feedscript.club_library import CLUB, Change, LibraryError, current, read_text
from feedscript.desk.files import PROGRAM_ENDING, Entry, Folder, missing, title_of
from feedscript.diagnostics import FeedscriptError
from feedscript.host.private_file import write_private
from feedscript.language.resolve.loading import MOST_BYTES
from feedscript.override import override

#: In the desk's folder: the coach's programs; the club's library; a library of the coach's own,
#: which stays empty, since all of a coach's programs lie beside one another.
PROGRAMS, CLUB_LIBRARY, OWN_LIBRARY = "programs", "club", "own"


def not_laid_out(trouble: Exception) -> FeedscriptError:
    """What a coach is told whose desk cannot be laid out."""
    return FeedscriptError(
        DESK_NOT_HEARD.report(
            f"your desk on the club's server cannot be laid out: {trouble}",
            help="tell whoever looks after the server that its disk may be full",
        )
    )


class DeskFolder(Folder):
    """The coach's programs, the shipped ones and the texts that the club has approved."""

    def __init__(self, root: Path) -> None:
        super().__init__(root / PROGRAMS)
        self.library = root / CLUB_LIBRARY

    @override
    def listed(self) -> tuple[Entry, ...]:
        return (*super().listed(), *self._of_club())

    def _of_club(self) -> Iterable[Entry]:
        with suppress(LibraryError):
            for name, one in sorted(current(club_library.read_record(self.library)).items()):
                path = club_library.text_path(self.library, one)
                if not one.withdrawn and path.suffix == PROGRAM_ENDING and path.exists():
                    title = title_of(path)
                    yield Entry(name=f"{CLUB}{name}", title=title, shipped=True, club=True)

    @override
    def path(self, name: str) -> Path:
        if not name.startswith(CLUB):
            return super().path(name)
        try:
            return read_text(self.library, name.removeprefix(CLUB), MOST_BYTES)[0]
        except LibraryError as why:
            raise missing(name, str(why)) from why


class Copied:
    """The folder brought up to what the store has; for as many threads as like."""

    def __init__(self, root: Path) -> None:
        self.folder = DeskFolder(root)
        self._lock = threading.Lock()
        self._changes = -1
        for name in (PROGRAMS, CLUB_LIBRARY, OWN_LIBRARY):
            (root / name).mkdir(mode=0o700)

    def bring(self, programs: Iterable[tuple[str, str]]) -> None:
        """Exactly these programs, by name and words. Raises OSError."""
        with self._lock:
            wanted = {self.folder.own_path(name): words.encode() for name, words in programs}
            for path in self.folder.root.iterdir():
                if path not in wanted:
                    path.unlink()
            for path, words in wanted.items():
                if not path.exists() or path.read_bytes() != words:
                    _replace(path, words)

    def bring_library(
        self, key: str, changes: Sequence[Change], text_of: Callable[[str], bytes | None]
    ) -> None:
        """The club's library, as every court has it. Raises OSError and LibraryError."""
        with self._lock:
            if len(changes) == self._changes:
                return
            used = [one.sha256 for one in current(changes).values() if not one.withdrawn]
            texts = {sha256: text for sha256 in used if (text := text_of(sha256)) is not None}
            club_library.keep(self.folder.library, key, changes, texts)
            self._changes = len(changes)


def _replace(path: Path, words: bytes) -> None:
    """Whole or not at all: the desk may be reading it."""
    beside = path.parent.with_name("being-written")
    write_private(beside, words)
    os.replace(beside, path)
