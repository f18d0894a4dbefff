"""What may be done with the library's texts, and by whom.

A text is added by a coach when it passes the check (a launcher's profile, when it reads without a
mistake); it is used on courts once somebody else has approved it (the head coach may approve an own
one); any coach may say a word about one, or withdraw it for a fault, and then no court begins a
lesson with it until it is approved anew.
"""

from __future__ import annotations

import hashlib
import tempfile
from collections.abc import Callable, Sequence
from pathlib import Path

import msgspec

from feedscript.check.check_program import Options, Verdict, check_program
from feedscript.club.library.signing import ClubKey
from feedscript.club.refusals import LIBRARY_REFUSED
from feedscript.club.store import library
from feedscript.club.store.store import Store
from feedscript.club.who import Person, Role
from feedscript.club_library import (
    MOST_NAME,
    NAME,
    Change,
    Kind,
    Version,
    is_profile,
    versions,
)
from feedscript.diagnostics import Diagnostic, FeedscriptError, has_errors
from feedscript.language.resolve.loading import MOST_BYTES
from feedscript.launcher.profile.read_profile import profile_in


class NotDoneError(FeedscriptError):
    """Why a change of the library is not made; ``found`` is what the check says of its text."""

    def __init__(self, diagnostic: Diagnostic, found: tuple[Diagnostic, ...] = ()) -> None:
        super().__init__(diagnostic)
        self.found = found


def judge(name: str, text: str) -> Verdict:
    """The check of a text that stands alone: what it uses comes with feedscript, for on another
    machine there may be another thing beside it."""
    with tempfile.TemporaryDirectory() as alone:
        return check_program(Path(alone) / f"{name}.feed", Options(library=Path(alone)), text=text)


class Judged(msgspec.Struct, frozen=True, kw_only=True):
    """What the check says of a text: whether it passes, and uses another one of the club's."""

    ok: bool
    from_club: bool
    diagnostics: tuple[Diagnostic, ...]


def judged_here(name: str, text: str) -> Judged:
    """In this very process."""
    if is_profile(name):
        reading = profile_in(text.encode(), name)
        reads = reading.profile is not None and not has_errors(reading.diagnostics)
        return Judged(ok=reads, from_club=False, diagnostics=reading.diagnostics)
    verdict = judge(name, text)
    uses = verdict.program is not None and bool(verdict.program.from_club)
    return Judged(ok=verdict.ok, from_club=uses, diagnostics=verdict.diagnostics)


class Shelf:
    """The library of one club; ``judged`` says of a text whether it passes. Each method raises
    NotDoneError, or FeedscriptError as the store does."""

    def __init__(
        self,
        store: Store,
        key: ClubKey,
        utc_s: Callable[[], float],
        judged: Callable[[str, str], Judged] = judged_here,
    ) -> None:
        self._store = store
        self._judged = judged
        self._key = key
        self._utc_s = utc_s

    @property
    def public_key(self) -> str:
        """What courts verify by."""
        return self._key.public

    def changes(self) -> tuple[Change, ...]:
        """The whole record."""
        return library.changes(self._store)

    def text(self, sha256: str) -> bytes | None:
        return library.text_of(self._store, sha256)

    def add(self, name: str, text: str, words: str, by: Person) -> Change:
        """Put a text on the shelf, for others to look at."""
        if not NAME.fullmatch(name) or len(name) > MOST_NAME:
            raise not_done(
                f"{name!r} is no name of a text: small letters, digits and _, a letter first",
                "name it like the pattern in it; a launcher's profile ends in .toml",
            )
        content = text.encode()
        sha256 = hashlib.sha256(content).hexdigest()
        self._see_that_it_passes(name, text)

        def make(changes: Sequence[Change]) -> Change:
            if any(one.sha256 == sha256 for one in versions(changes).values()):
                raise not_done("the library has this very text already", "change it, or use it")
            return self._change(changes, Kind.ADDED, name, sha256, words, by)

        return library.append(self._store, make, content)

    def _see_that_it_passes(self, name: str, text: str) -> None:
        if len(text.encode()) > MOST_BYTES:
            raise not_done(f"it is longer than {MOST_BYTES} bytes", "split it")
        found = self._judged(name, text)
        if not found.ok:
            raise NotDoneError(_has_mistakes(name), found.diagnostics)
        if found.from_club:
            raise not_done(
                "it uses another text of the club's, which may change under it",
                "copy what it needs of that into it; a launcher's profile is named where it "
                "is used",
            )

    def approve(self, sha256: str, words: str, by: Person) -> Change:
        """Let courts use it from now on, in place of what its name meant before."""

        def make(changes: Sequence[Change]) -> Change:
            version = _known(changes, sha256)
            if version.author_id == by.id and by.role is not Role.HEAD_COACH:
                raise not_done(
                    "whoever wrote a text does not approve it", "ask another coach to look at it"
                )
            return self._change(changes, Kind.APPROVED, version.name, sha256, words, by)

        return library.append(self._store, make)

    def look_at(self, sha256: str, words: str, by: Person) -> Change:
        """Somebody has looked at it and says something; nothing else comes of it."""
        if not words.strip():
            raise not_done("nothing is said of it", "say what you saw")

        def make(changes: Sequence[Change]) -> Change:
            version = _known(changes, sha256)
            return self._change(changes, Kind.LOOKED_AT, version.name, sha256, words, by)

        return library.append(self._store, make)

    def withdraw(self, sha256: str, fault: str, by: Person) -> Change:
        """No court begins a lesson with it any more."""
        if not fault.strip():
            raise not_done("nothing is said of its fault", "say what the fault is: courts show it")

        def make(changes: Sequence[Change]) -> Change:
            version = _known(changes, sha256)
            return self._change(changes, Kind.WITHDRAWN, version.name, sha256, fault, by)

        return library.append(self._store, make)

    def _change(
        self,
        changes: Sequence[Change],
        kind: Kind,
        name: str,
        sha256: str,
        words: str,
        by: Person,
    ) -> Change:
        return self._key.signed(
            Change(
                number=len(changes) + 1,
                kind=kind,
                name=name,
                sha256=sha256,
                by=by.name,
                by_id=by.id,
                utc_s=self._utc_s(),
                words=words,
            )
        )


def _known(changes: Sequence[Change], sha256: str) -> Version:
    found = versions(changes).get(sha256)
    if found is None:
        raise not_done("the library has no such text", "look at the library again")
    return found


def _has_mistakes(name: str) -> Diagnostic:
    if is_profile(name):
        return LIBRARY_REFUSED.report(
            "the profile has mistakes", help="mend what is said of it, and add it again"
        )
    return LIBRARY_REFUSED.report(
        "the text does not pass the check",
        help="mend what the check says; a pattern passes with a small lesson that shows it",
    )


def not_done(why: str, help: str) -> NotDoneError:
    """Why nothing is done, and what to do."""
    return NotDoneError(LIBRARY_REFUSED.report(why, help=help))
