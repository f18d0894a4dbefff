"""How ``use "file.feed"`` finds its text: in the program's folder, the coach's own library, the
club's or the shipped one, and nowhere else."""

from __future__ import annotations

import hashlib
import os
from collections.abc import Callable, Iterable
from pathlib import Path
from typing import TypeAlias

import msgspec

from feedscript import club_library
from feedscript.club_library import CLUB, Pin
from feedscript.own_library import OWN
from feedscript.plain_file import is_plain, read_plain, real_path
from feedscript.text_file import NotText, text_of


class Loaded(msgspec.Struct, frozen=True):
    """A file that a program uses: the name its spans carry, and its text; and which of the club's
    texts it is, if it is one."""

    source: str
    text: str
    pin: Pin | None = None


class NotLoaded(msgspec.Struct, frozen=True):
    """Why a file cannot be had, in words for a person."""

    reason: str


#: ``load(source of the file that says use, path as written)``.
Load: TypeAlias = Callable[[str, str], Loaded | NotLoaded]

#: A file larger than this is no program.
MOST_BYTES = 500_000


def load_nothing(using: str, path: str) -> Loaded | NotLoaded:  # noqa: ARG001 - the shape of Load
    """For a text that lies in no folder, such as one pasted into an editor."""
    return NotLoaded("this text lies in no folder, so it has no files beside it")


def load_beside(program: Path, shipped: Path, own: Path | None = None) -> Load:
    """Files in the folder of ``program`` or below it; ``my/…`` in the coach's ``own`` library;
    ``club/…`` in the club's, as it was last fetched; else in the ``shipped`` folder. The ending
    ``.feed`` may be left out."""
    home = real_path(program).parent
    inside_own = None if own is None else real_path(own)

    def load(using: str, path: str) -> Loaded | NotLoaded:
        if "\\" in path or path.startswith(("/", "~")) or ":" in path or "\0" in path:
            return NotLoaded("a path is written from the program's folder, with `/`")
        beside = real_path(Path(using)).parent
        places = [(home, beside / path), (home, home / path)]
        if inside_own is not None and beside.is_relative_to(inside_own):
            places.append((inside_own, beside / path))
        found = _first(places)
        mine = None
        if path.startswith(OWN) and inside_own is not None:
            mine = _first([(inside_own, inside_own / path.removeprefix(OWN))])
        if found is not None and mine is not None and found != mine:
            return NotLoaded(f"there are two: {found}, and {mine} in your own library; rename one")
        if path.startswith(CLUB):
            return _of_the_club(path, found)
        found = found or mine
        if found is None and any(_is_taken(*place) for place in places):
            return NotLoaded("what lies there under this name is no file of that folder")
        found = found or _first([(real_path(shipped), shipped / path)])
        return _read(found) if found is not None else _none(path, inside_own)

    return load


def _of_the_club(path: str, beside: Path | None) -> Loaded | NotLoaded:
    """The text that the club has approved last, verified; never one beside in its place."""
    if beside is not None:
        return NotLoaded(f"{beside} would be taken for the club's; rename its folder")
    name = path.removeprefix(CLUB).removesuffix(".feed")
    if club_library.is_profile(name):
        return NotLoaded("it is the profile of a launcher: write it in `launcher { profile … }`")
    try:
        found, raw = club_library.read_text(club_library.club_folder(), name, MOST_BYTES)
    except club_library.LibraryError as why:
        return NotLoaded(str(why))
    text = _decoded(found, raw)
    if isinstance(text, NotLoaded):
        return text
    return msgspec.structs.replace(text, pin=Pin(name, hashlib.sha256(raw).hexdigest()))


def _none(path: str, own: Path | None) -> NotLoaded:
    if ".." in Path(path).parts:
        return NotLoaded("it leads out of the program's folder")
    if path.startswith(OWN):
        where = "there is no such file in your own library"
        return NotLoaded(where if own is None else f"{where}, {own}")
    return NotLoaded("there is no such file beside the program, nor in the shipped library")


def _first(places: Iterable[tuple[Path, Path]]) -> Path | None:
    """The first file that is there, links followed, and lies under its root."""
    for root, candidate in places:
        for written in (candidate, Path(f"{candidate}.feed")):
            found = real_path(written)
            if found.is_relative_to(root) and is_plain(found):
                return found
    return None


def _is_taken(root: Path, candidate: Path) -> bool:
    """Whether anything has this program's name there, such as a link that leads nowhere: the
    shipped one of the same name is then not the one that is meant."""
    written = Path(
        os.path.normpath(candidate.with_name(f"{candidate.name.removesuffix('.feed')}.feed"))
    )
    return written.is_relative_to(root) and os.path.lexists(written)


def _read(path: Path) -> Loaded | NotLoaded:
    try:
        return _decoded(path, read_plain(path, MOST_BYTES))
    except OSError as trouble:
        return NotLoaded(trouble.strerror or str(trouble))


def _decoded(path: Path, raw: bytes) -> Loaded | NotLoaded:
    if len(raw) > MOST_BYTES:
        return NotLoaded(f"it is larger than {MOST_BYTES} bytes")
    text = text_of(raw)
    return NotLoaded(text.cause) if isinstance(text, NotText) else Loaded(str(path), text)
