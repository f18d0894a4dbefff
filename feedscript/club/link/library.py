"""The club's library fetched by a court between lessons: its record, and the texts in use."""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from pathlib import Path

import msgspec

from feedscript.club.link.door import Door
from feedscript.club_library import (
    Change,
    LibraryError,
    Version,
    current,
    keep,
    read_record,
    see_that_it_is_sound,
    text_path,
)
from feedscript.language.resolve.loading import MOST_BYTES
from feedscript.plain_file import read_plain


class FetchedNow(msgspec.Struct, frozen=True, kw_only=True):
    """What came of fetching: how many texts are new here, and what was withdrawn since; how many
    programs that were handed to this court are new or others."""

    texts: int
    withdrawn: tuple[Version, ...]
    programs: int = 0


async def fetch_library(door: Door, folder: Path) -> FetchedNow:
    """Bring the court's copy up to what the club has. Raises NotHeardError and NotTakenError,
    LibraryError for what cannot be believed, OSError for what cannot be written."""
    told = await door.library()
    see_that_it_is_sound(told.changes, told.key)
    before = current(read_record(folder)) if folder.exists() else {}
    texts = {
        one.sha256: await _text(door, one)
        for one in current(told.changes).values()
        if not one.withdrawn and not _is_here(folder, one)
    }
    keep(folder, told.key, told.changes, texts)
    return FetchedNow(texts=len(texts), withdrawn=_withdrawn_since(before, told.changes))


def _is_here(folder: Path, version: Version) -> bool:
    try:
        content = read_plain(text_path(folder, version), MOST_BYTES)
    except OSError:
        return False
    return hashlib.sha256(content).hexdigest() == version.sha256


async def _text(door: Door, version: Version) -> bytes:
    content = await door.library_text(version.sha256)
    if hashlib.sha256(content).hexdigest() != version.sha256:
        raise LibraryError(f"the club sent another text for {version.name} than it has approved")
    return content


def _withdrawn_since(before: dict[str, Version], changes: Sequence[Change]) -> tuple[Version, ...]:
    now = current(changes)
    return tuple(
        now[name]
        for name, one in before.items()
        if name in now and now[name].withdrawn and not one.withdrawn
    )
