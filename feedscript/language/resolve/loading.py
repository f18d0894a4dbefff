"""How ``use "file.feed"`` finds its text: inside the program's folder or the shipped one only."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import TypeAlias

import msgspec

from feedscript.plain_file import is_plain, read_plain, real_path


class Loaded(msgspec.Struct, frozen=True):
    """A file that a program uses: the name its spans carry, and its text."""

    source: str
    text: str


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


def load_beside(program: Path, shipped: Path) -> Load:
    """Files in the folder of ``program`` or below it, else in the ``shipped`` folder."""
    home = real_path(program).parent

    def load(using: str, path: str) -> Loaded | NotLoaded:
        if "\\" in path or path.startswith(("/", "~")) or ":" in path or "\0" in path:
            return NotLoaded("a path is written from the program's folder, with `/`")
        first = real_path(Path(using)).parent / path
        for root, candidate in ((home, first), (home, home / path), (shipped, shipped / path)):
            inside = _inside(real_path(root), candidate)
            if isinstance(inside, Path):
                return _read(inside)
        if ".." in Path(path).parts:
            return NotLoaded("it leads out of the program's folder")
        return NotLoaded("there is no such file beside the program, nor in the shipped library")

    return load


def _inside(root: Path, candidate: Path) -> Path | None:
    """The file itself, links followed, if it exists and lies under ``root``."""
    found = real_path(candidate)
    return found if found.is_relative_to(root) and is_plain(found) else None


def _read(path: Path) -> Loaded | NotLoaded:
    try:
        raw = read_plain(path, MOST_BYTES)
        if len(raw) > MOST_BYTES:
            return NotLoaded(f"it is larger than {MOST_BYTES} bytes")
        return Loaded(str(path), raw.decode("utf-8-sig"))
    except OSError as trouble:
        return NotLoaded(trouble.strerror or str(trouble))
    except UnicodeDecodeError as trouble:
        return NotLoaded(f"it is not UTF-8 text (byte {trouble.start})")
