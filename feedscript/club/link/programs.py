"""Programs that coaches have handed to this court, in its own library: ``my/from-club/COACH/NAME``.

Each is exactly what its coach handed on, by the hash that came along; the next fetch puts another
one in its place, or takes it away, as the coach has done. What somebody changed here meanwhile is
never lost: it stays beside it, under a name of its own.
"""

from __future__ import annotations

import hashlib
import os
from collections.abc import Iterable
from contextlib import suppress
from pathlib import Path

import msgspec

from feedscript.club.handed import HandedProgram
from feedscript.club.link.door import Door, NotHeardError, NotTakenError
from feedscript.host.private_file import write_private
from feedscript.language.resolve.loading import MOST_BYTES
from feedscript.own_library import SEASON_ENDING
from feedscript.plain_file import read_plain

#: In the coach's own library.
FOLDER = "from-club"
_PINNED = ".pinned.json"
_MOST_PINNED_BYTES = 10_000_000
#: What is added to the name of a file that was changed here.
_CHANGED = "changed here"
_NOT_THERE = 404


async def fetch_programs(door: Door, library: Path) -> int:
    """Bring the folder up to what the club has for this court; how many programs are new or others.

    Raises NotHeardError and NotTakenError, OSError for what cannot be written.
    """
    try:
        told = (await door.programs()).programs
    except NotTakenError as refused:
        if refused.status == _NOT_THERE:
            return 0  # a club's server that is older than this
        raise
    if any(hashlib.sha256(one.words.encode()).hexdigest() != one.sha256 for one in told):
        raise NotHeardError("a program came otherwise than it was handed on")
    return _kept(library / FOLDER, told)


def _kept(folder: Path, told: Iterable[HandedProgram]) -> int:
    wanted = {_place(one): one for one in told}
    before = _pinned(folder)
    if not wanted and not before:
        return 0
    for place in before.keys() - wanted.keys():
        _away(folder / place, before[place])
    new = sum(_written(folder / place, one, before.get(place)) for place, one in wanted.items())
    # Whatever was written before this fails is taken for changed here: kept, and written again.
    _write(folder / _PINNED, msgspec.json.encode({at: one.sha256 for at, one in wanted.items()}))
    return new


def _place(one: HandedProgram) -> str:
    file = one.name if one.name.endswith(SEASON_ENDING) else f"{one.name}.feed"
    return f"{one.folder}/{file}"


def _pinned(folder: Path) -> dict[str, str]:
    with suppress(OSError, msgspec.MsgspecError, UnicodeDecodeError, RecursionError):
        raw = read_plain(folder / _PINNED, _MOST_PINNED_BYTES)
        found = msgspec.json.decode(raw, type=dict[str, str])
        return {place: one for place, one in found.items() if ".." not in Path(place).parts}
    return {}


def _hash_of(path: Path) -> str:
    """Of what lies there; "" for nothing."""
    try:
        return hashlib.sha256(read_plain(path, MOST_BYTES)).hexdigest()
    except OSError:
        return ""


def _away(path: Path, pinned: str) -> None:
    if _hash_of(path) == pinned:
        path.unlink()
    else:
        _set_aside(path)


def _written(path: Path, one: HandedProgram, pinned: str | None) -> bool:
    """Whether anything had to be done."""
    there = _hash_of(path)
    if there == one.sha256:
        return False
    if there != (pinned or ""):
        _set_aside(path)
    path.parent.mkdir(parents=True, exist_ok=True, mode=0o700)
    _write(path, one.words.encode())
    return True


def _set_aside(path: Path) -> None:
    """Somebody has changed it here: it is theirs now."""
    if not os.path.lexists(path):
        return
    number, to = 2, path.with_name(f"{path.stem} {_CHANGED}{path.suffix}")
    while os.path.lexists(to):
        to, number = path.with_name(f"{path.stem} {_CHANGED} {number}{path.suffix}"), number + 1
    os.replace(path, to)


def _write(path: Path, content: bytes) -> None:
    beside = path.with_name(f"{path.name}.new")
    write_private(beside, content)
    os.replace(beside, path)
