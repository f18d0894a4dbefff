"""What is measured of a film that was not looked over to its end: kept beside the output, so that
the next run goes on from there.

A line of JSON says of which film, lesson and cameras it is; then a line for each ball. Numbers
only. A line that was cut off as the program ended is not read, and a file of another film or lesson
is begun anew.
"""

from __future__ import annotations

import hashlib
import os
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import msgspec
import numpy as np

from feedscript import __version__
from feedscript.plain_file import read_plain
from feedscript.watch.asked import AskedLesson
from feedscript.watch.camera.camera import Camera
from feedscript.watch.fit.measured import Measured, NotSeen, Why
from feedscript.watch.ruler.anew import Standing

#: A film is known by its length and by so many parts of so many bytes, spread over it.
_PARTS, _PART_BYTES = 64, 1 << 16


class Done(msgspec.Struct, frozen=True, kw_only=True, eq=False):
    """One ball that is over: the camera as it was followed to it, and what it is found to be."""

    number: int
    camera: Camera
    measured: Measured | None = None
    why: Why | None = None

    @property
    def seen(self) -> Measured | NotSeen:
        if self.measured is not None:
            return self.measured
        return NotSeen(number=self.number, why=self.why or Why.NO_PICTURES)


def done_of(camera: Camera, seen: Measured | NotSeen) -> Done:
    if isinstance(seen, NotSeen):
        return Done(number=seen.number, camera=camera, why=seen.why)
    return Done(number=seen.number, camera=camera, measured=seen)


class Unfinished:
    """The file of one looking-over; nothing is written before the first ball is over."""

    def __init__(self, path: Path, key: str) -> None:
        """Reads what is there. Raises OSError where it is no plain file, or not to be read."""
        self.path, self._key = path, key
        self.done: list[Done] = []
        lines = read_plain(path).split(b"\n") if path.exists() else [b""]
        if lines[0] == self._head:
            self.done = list(_read(lines[1:-1]))  # after the last line's end there is none
        self._begun = False

    def add(self, one: Done) -> None:
        """Keep a ball; one that is there already (after a gap) is kept once. Raises OSError."""
        if any(each.number == one.number for each in self.done):
            return
        self.done.append(one)
        rows = [as_line(one)] if self._begun else [self._head, *map(as_line, self.done)]
        new = os.O_APPEND if self._begun else os.O_TRUNC  # without what could not be read
        descriptor = os.open(self.path, os.O_WRONLY | os.O_CREAT | new, 0o600)
        with open(descriptor, "wb") as file:
            file.write(b"".join(row + b"\n" for row in rows))
        self._begun = True

    @property
    def _head(self) -> bytes:
        return msgspec.json.encode({"unfinished": self._key})


def balls_in_file(path: Path) -> int:
    """How many balls are kept there, of whichever film."""
    try:
        return max(len(read_plain(path).split(b"\n")) - 2, 0)
    except OSError:
        return 0


def beside(out: Path) -> Path:
    """Where an unfinished output is kept."""
    return out.with_name(out.name + ".unfinished")


def key_of(film: Path, lesson: AskedLesson, clock: bytes, places: Sequence[Standing]) -> str:
    """All that measuring the balls hangs on: film, lesson, the clock (as it is written), cameras,
    and this program."""
    cameras = [
        (one.still.from_s, str(one.still.to_s), one.known.camera if one.known else None)
        for one in places
    ]
    rest = msgspec.json.encode(
        (__version__, lesson, clock.decode(), cameras), order="deterministic"
    )
    return hashlib.sha256(_film(film) + rest).hexdigest()


def _film(path: Path) -> bytes:
    size = path.stat().st_size
    found = hashlib.sha256(str(size).encode())
    with path.open("rb") as file:
        for part in range(_PARTS):
            file.seek(max(size - _PART_BYTES, 0) * part // (_PARTS - 1))
            found.update(file.read(_PART_BYTES))
    return found.digest()


def as_line(one: Done) -> bytes:
    return msgspec.json.encode(one, enc_hook=_plain)


def _read(lines: Sequence[bytes]) -> list[Done]:
    """Until the first line that cannot be read."""
    found: list[Done] = []
    for line in lines:
        try:
            found.append(msgspec.json.decode(line, type=Done, dec_hook=_array))
        except (msgspec.MsgspecError, UnicodeDecodeError):
            break
    return found


def _plain(value: object) -> Any:
    if isinstance(value, np.ndarray):
        return value.tolist()
    raise NotImplementedError(type(value).__name__)


def _array(_: type, value: Any) -> Any:
    return np.array(value, np.float64)
