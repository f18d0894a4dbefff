"""The club's library as a court has it: what ``use "club/NAME"`` and ``profile "club/NAME.toml"``
look into.

It is a record of changes, numbered from 1 without a gap, each signed by the club (Ed25519, RFC
8032) when it was made: a text added by somebody, looked at, approved by somebody else, or withdrawn
for a fault. A text is a program or, where its name ends in ``.toml``, the profile of a launcher.
What holds now is worked out from the record and from nothing else, so that who can only write the
club's database can pass no text for the club's. Its public key is kept at joining.
"""

from __future__ import annotations

import base64
import hashlib
import os
import re
from collections.abc import Callable, Mapping, Sequence
from enum import StrEnum
from functools import lru_cache
from pathlib import Path
from typing import TypeAlias

import msgspec
import platformdirs

from feedscript.host.private_file import private_folder, write_private
from feedscript.plain_file import read_plain

#: What stands before the name of a text in it.
CLUB = "club/"
#: Names the folder, where no command does.
VARIABLE = "FEEDSCRIPT_CLUB_LIBRARY"
#: How the name of a launcher's profile ends; a program's has no ending.
PROFILE = ".toml"
NAME = re.compile(r"[a-z][a-z0-9]*(?:[_-][a-z0-9]+)*(?:\.toml)?")
MOST_NAME = 60
_PROGRAM = ".feed"
_RECORD, _KEY = "record.json", "key"
_MOST_RECORD_BYTES = 50_000_000


class Kind(StrEnum):
    """What a change does."""

    ADDED = "added"
    LOOKED_AT = "looked-at"  # words alone: nothing comes of it
    APPROVED = "approved"
    WITHDRAWN = "withdrawn"


class Change(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """One change of the library. ``words``: what is new, why it is good, or what its fault is."""

    number: int
    kind: Kind
    name: str
    sha256: str  # of the text, as it lies in its file
    by: str
    by_id: str = ""
    utc_s: float
    words: str
    signature: str = ""  # base64, over all the rest

    @property
    def signed(self) -> bytes:
        """What the signature is over."""
        plain = msgspec.structs.replace(self, signature="")
        return b"feedscript club library\n" + msgspec.json.encode(plain)


class Version(msgspec.Struct, frozen=True, kw_only=True):
    """One text of a name, and what became of it. ``withdrawn`` is the fault, or empty."""

    name: str
    sha256: str
    author: str
    author_id: str
    added_utc_s: float
    words: str
    approved_by: tuple[str, ...] = ()
    withdrawn: str = ""


class Pin(msgspec.Struct, frozen=True, order=True):
    """Which text of the club's a plan was made from."""

    name: str  # without ``club/``
    sha256: str


class LibraryError(Exception):
    """The library cannot be believed, or read; in words for a person."""


Verify: TypeAlias = Callable[[bytes, bytes], bool]


def verifier(key: str) -> Verify:
    """Whether a signature over words is the club's, by its public key in base64.

    Raises LibraryError for what is no key, and where the library that verifies is not installed.
    """
    try:
        from cryptography.exceptions import InvalidSignature
        from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PublicKey
    except ModuleNotFoundError:
        raise LibraryError(
            "it is signed, and what verifies it is not installed: pip install 'feedscript[club]'"
        ) from None
    try:
        public = Ed25519PublicKey.from_public_bytes(base64.b64decode(key, validate=True))
    except ValueError:
        raise LibraryError("the club's key, as it is kept here, is none") from None

    def verify(signature: bytes, words: bytes) -> bool:
        try:
            public.verify(signature, words)
        except InvalidSignature:
            return False
        return True

    return verify


def see_that_it_is_sound(changes: Sequence[Change], key: str) -> None:
    """Raises LibraryError unless every change is there, in order and signed by the club."""
    verify = verifier(key)
    for number, change in enumerate(changes, 1):
        if change.number != number:
            raise LibraryError(f"its change {number} is missing")
        try:
            signature = base64.b64decode(change.signature, validate=True)
        except ValueError:
            signature = b""
        if not verify(signature, change.signed):
            raise LibraryError(f"its change {number} is not signed by the club")


def versions(changes: Sequence[Change]) -> dict[str, Version]:
    """Every text by its hash, as the changes leave it, in the order of adding."""
    found: dict[str, Version] = {}
    for change in changes:
        if change.kind is Kind.ADDED:
            found[change.sha256] = Version(
                name=change.name,
                sha256=change.sha256,
                author=change.by,
                author_id=change.by_id,
                added_utc_s=change.utc_s,
                words=change.words,
            )
        elif change.sha256 in found:
            found[change.sha256] = _after(found[change.sha256], change)
    return found


def _after(version: Version, change: Change) -> Version:
    if change.kind is Kind.LOOKED_AT:
        return version
    if change.kind is Kind.WITHDRAWN:
        return msgspec.structs.replace(version, withdrawn=change.words or "a fault")
    approved = (*version.approved_by, change.by)
    return msgspec.structs.replace(version, approved_by=approved, withdrawn="")


def current(changes: Sequence[Change]) -> dict[str, Version]:
    """The text that each name means: the one approved last, withdrawn since or not. One that was
    withdrawn is not replaced by an older one unless somebody approves that anew."""
    known = versions(changes)
    means = {one.name: one.sha256 for one in changes if one.kind is Kind.APPROVED}
    return {name: known[sha256] for name, sha256 in means.items() if sha256 in known}


def club_folder() -> Path:
    """Where the library lies on a court's computer, there or not."""
    said = os.environ.get(VARIABLE)
    if said:
        return Path(said)
    return platformdirs.user_data_path("feedscript", appauthor=False) / "club-library"


def text_path(folder: Path, pin: Pin | Version) -> Path:
    """The file of one text."""
    stem, ending = pin.name.removesuffix(PROFILE), _PROGRAM
    if is_profile(pin.name):
        ending = PROFILE
    return folder / f"{stem}@{pin.sha256[:16]}{ending}"


def is_profile(name: str) -> bool:
    """Whether a text of this name is the profile of a launcher."""
    return name.endswith(PROFILE)


def profile_name(path: Path) -> str | None:
    """The name of the club's profile that lies there; None for a file of anywhere else."""
    if path.parent != club_folder() or path.suffix != PROFILE:
        return None
    return path.stem.partition("@")[0] + PROFILE


def read_key(folder: Path) -> str:
    """The club's public key; empty where no library was fetched yet."""
    try:
        return read_plain(folder / _KEY, 200).decode("ascii").strip()
    except (OSError, UnicodeDecodeError):
        return ""


def read_record(folder: Path) -> tuple[Change, ...]:
    """The changes, each verified. Raises LibraryError."""
    key = read_key(folder)
    if not key:
        return ()
    try:
        return _believed(read_plain(folder / _RECORD, _MOST_RECORD_BYTES), key)
    except FileNotFoundError:
        return ()
    except OSError as trouble:
        raise LibraryError(f"its record cannot be read: {trouble.strerror or trouble}") from None


@lru_cache(maxsize=2)
def _believed(raw: bytes, key: str) -> tuple[Change, ...]:
    """An editor checks with every key that is pressed; the same bytes are verified once."""
    try:
        changes = msgspec.json.decode(raw, type=tuple[Change, ...])
    except (msgspec.DecodeError, UnicodeDecodeError, RecursionError) as trouble:
        raise LibraryError(f"its record cannot be read: {trouble}") from None
    see_that_it_is_sound(changes, key)
    return changes


def read_text(folder: Path, name: str, most_bytes: int) -> tuple[Path, bytes]:
    """The text that a name means now, and where it lies. Raises LibraryError, which says why there
    is none."""
    meant = current(read_record(folder)).get(name)
    if meant is None:
        raise LibraryError("the club's library, as it was last fetched, has no such text")
    if meant.withdrawn:
        raise LibraryError(f"the club has withdrawn it: {meant.withdrawn}")
    path = text_path(folder, meant)
    try:
        raw = read_plain(path, most_bytes)
    except OSError as trouble:
        raise LibraryError(f"{path.name}: {trouble.strerror or trouble}") from None
    if hashlib.sha256(raw).hexdigest() != meant.sha256:
        raise LibraryError(f"{path.name} is not the text that the club has approved")
    return path, raw


def withdrawn_among(folder: Path, pins: Sequence[Pin]) -> list[Version]:
    """Those of a plan's texts that the club has withdrawn since, as far as is known here. Raises
    LibraryError."""
    if not pins:
        return []
    known = versions(read_record(folder))
    return [
        known[pin.sha256] for pin in pins if pin.sha256 in known and known[pin.sha256].withdrawn
    ]


def keep(folder: Path, key: str, changes: Sequence[Change], texts: Mapping[str, bytes]) -> None:
    """Write down what was fetched, for its owner alone, the record last. Raises OSError, and
    LibraryError for another key than was kept, a record shorter than the one kept, or one that
    cannot be believed."""
    kept = read_key(folder)
    if kept and kept != key:
        raise LibraryError("it is signed by another key than the club's was when this court joined")
    see_that_it_is_sound(changes, key)
    before = read_record(folder)
    if tuple(changes[: len(before)]) != before:
        raise LibraryError("it has lost changes that it had before")
    private_folder(folder)
    for version in versions(changes).values():
        if version.sha256 in texts:
            _write(text_path(folder, version), texts[version.sha256])
    _write(folder / _KEY, key.encode())
    _write(folder / _RECORD, msgspec.json.encode(changes))


def forget(folder: Path) -> None:
    """Take the library away, and its key. Raises OSError."""
    texts = (one for ending in (_PROGRAM, PROFILE) for one in folder.glob(f"*@*{ending}"))
    for path in (folder / _KEY, folder / _RECORD, *texts):
        path.unlink(missing_ok=True)


def _write(path: Path, content: bytes) -> None:
    beside = path.with_name(f"{path.name}.new")
    write_private(beside, content)
    os.replace(beside, path)
