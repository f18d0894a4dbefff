"""The desk's port to where programs are kept, on the club's store: one coach's, nobody else's."""

from __future__ import annotations

import time
import unicodedata
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path

from sqlalchemy import Connection

from feedscript.club.desks.folder import Copied, not_laid_out
from feedscript.club.library.shelf import Shelf
from feedscript.club.store import programs
from feedscript.club.store.programs import Program, TooMuchError
from feedscript.club.store.store import Store
from feedscript.club_library import LibraryError
from feedscript.desk.files import (
    Clash,
    Entry,
    Text,
    Version,
    missing,
    unsaved,
    version_of,
)
from feedscript.language.resolve.loading import MOST_BYTES


class ClubPrograms:
    """A coach's programs; those that come with feedscript and the library's behind them. What is
    read lies in the desk's folder, which is brought up to the store first. Methods raise
    FeedscriptError."""

    def __init__(
        self,
        store: Store,
        shelf: Shelf,
        person: str,
        copied: Copied,
        utc_s: Callable[[], float] = time.time,
    ) -> None:
        self._store = store
        self._shelf = shelf
        self._person = person
        self._copied = copied
        self._utc_s = utc_s

    def bring(self) -> None:
        """The folder as the store has it now: also what another tab, or another server process, has
        saved, and without whoever was forgotten."""
        with self._store.reading() as connection:
            own = programs.programs_of(connection, self._person)
        changes = self._shelf.changes()
        try:
            self._copied.bring((one.name, one.words) for one in own)
            self._copied.bring_library(self._shelf.public_key, changes, self._shelf.text)
        except (OSError, LibraryError) as trouble:
            raise not_laid_out(trouble) from trouble

    def listed(self) -> tuple[Entry, ...]:
        self.bring()
        return self._copied.folder.listed()

    def path(self, name: str) -> Path:
        return self._copied.folder.path(name)

    def read(self, name: str) -> Text:
        self.bring()
        return self._copied.folder.read(name)

    def save(self, name: str, words: str, based_on: str) -> Text | Clash:
        name = unicodedata.normalize("NFC", name)
        self._copied.folder.own_path(name)  # is a name
        _see_that_it_is_text(name, words)
        with self._store.writing() as connection:
            programs.one_at_a_time(connection, self._person)
            now = programs.program_of(connection, self._person, name)
            if now is not None and version_of(now.words) not in (based_on, version_of(words)):
                return Clash(_text(now))
            self._write(connection, now, name, words)
        return Text(name=name, words=words, version=version_of(words))

    def _write(self, connection: Connection, now: Program | None, name: str, words: str) -> None:
        now_utc_s = self._utc_s()
        try:
            program = programs.write(connection, self._person, now, name, words)
        except TooMuchError as much:
            raise unsaved(name, str(much), "delete what is not needed any more") from None
        if now is not None:
            programs.keep_version(connection, program, now.words, now_utc_s)
        programs.keep_version(connection, program, words, now_utc_s)

    def versions(self, name: str) -> tuple[Version, ...]:
        with self._store.reading() as connection:
            program = self._own(connection, name)
            kept = programs.versions_of(connection, program.id)
        return tuple(Version(version=str(one.seq), saved=_iso(one.saved_utc_s)) for one in kept)

    def version(self, name: str, version: str) -> Text:
        with self._store.reading() as connection:
            program = self._own(connection, name)
            words = None
            if version.isascii() and version.isdecimal() and len(version) < 16:
                words = programs.words_of_version(connection, program.id, int(version))
        if words is None:
            raise missing(name, "that version is not kept any more")
        return Text(name=name, words=words, version=version)

    def _own(self, connection: Connection, name: str) -> Program:
        found = programs.program_of(connection, self._person, name)
        if found is None:
            raise missing(name)
        return found


def _text(program: Program) -> Text:
    return Text(name=program.name, words=program.words, version=version_of(program.words))


def _see_that_it_is_text(name: str, words: str) -> None:
    """As a store can keep it. Raises FeedscriptError."""
    try:
        size = len(words.encode())
    except UnicodeEncodeError:
        raise unsaved(name, "it holds half a character", "take it out") from None
    if "\x00" in words:
        raise unsaved(name, "it holds the character NUL, which is none of a text", "take it out")
    if size > MOST_BYTES:
        raise unsaved(name, f"it is longer than {MOST_BYTES} bytes", "split the program")


def _iso(utc_s: float) -> str:
    return datetime.fromtimestamp(utc_s, UTC).isoformat(timespec="seconds")
