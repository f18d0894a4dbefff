"""What is measured of a film that was not looked over to its end: kept beside the output, so that
the next run goes on from there.

A line of JSON says of which film, lesson and cameras it is; then a line for each ball, and for each
shot that was looked for. Numbers only.
"""

from __future__ import annotations

import hashlib
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
from feedscript.watch.kept_lines import KeptLines, rows_in
from feedscript.watch.ruler.anew import Standing
from feedscript.watch.shots.seen import NoShot, Shot, WhyNot

#: A film is known by its length and by so many parts of so many bytes, spread over it.
_PARTS, _PART_BYTES = 64, 1 << 16


class Done(msgspec.Struct, frozen=True, kw_only=True, eq=False, tag_field="of", tag="ball"):
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


class DoneShot(msgspec.Struct, frozen=True, kw_only=True, eq=False, tag_field="of", tag="shot"):
    """One shot that is over."""

    number: int
    shot: Shot | None = None
    why: WhyNot | None = None

    @property
    def seen(self) -> Shot | NoShot:
        if self.shot is not None:
            return self.shot
        return NoShot(number=self.number, why=self.why or WhyNot.NO_PICTURES)


class Unfinished:
    """The file of one looking-over; nothing is written before the first ball is over."""

    def __init__(self, path: Path, key: str) -> None:
        """Reads what is there. Raises OSError where it is no plain file, or not to be read."""
        head = msgspec.json.encode({"unfinished": key})
        self._lines = KeptLines(path, head, _row, as_line)
        self.path = path

    @property
    def done(self) -> list[Done]:
        """The balls."""
        return [one for one in self._lines.rows if isinstance(one, Done)]

    @property
    def shots(self) -> dict[int, Shot | NoShot]:
        """The shots, by the number of the ball."""
        return {one.number: one.seen for one in self._lines.rows if isinstance(one, DoneShot)}

    def add(self, one: Done) -> None:
        """Keep a ball; one that is there already (after a gap) is kept once. Raises OSError."""
        if all(each.number != one.number for each in self.done):
            self._lines.add(one)

    def add_shot(self, seen: Shot | NoShot) -> None:
        """Keep a shot. Raises OSError."""
        shot, why = (None, seen.why) if isinstance(seen, NoShot) else (seen, None)
        self._lines.add(DoneShot(number=seen.number, shot=shot, why=why))


def balls_in_file(path: Path) -> int:
    """How many balls are kept there, of whichever film."""
    try:
        lines = read_plain(path).split(b"\n")
    except OSError:
        return 0
    return sum(isinstance(one, Done) for one in rows_in(lines[1:-1], _row))


def beside(out: Path) -> Path:
    """Where an unfinished output is kept."""
    return out.with_name(out.name + ".unfinished")


def answers_beside(out: Path) -> Path:
    """Where a person's answers are kept until the output is written."""
    return out.with_name(out.name + ".answers")


def key_of(film: Path, lesson: AskedLesson, asked: bytes, places: Sequence[Standing]) -> str:
    """All that measuring the balls hangs on: film, lesson, whatever else is ``asked`` (the clock,
    as it is written), cameras, and this program."""
    cameras = [
        (one.still.from_s, str(one.still.to_s), one.known.camera if one.known else None)
        for one in places
    ]
    rest = msgspec.json.encode(
        (__version__, lesson, asked.decode(), cameras), order="deterministic"
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


def as_line(one: Done | DoneShot) -> bytes:
    return msgspec.json.encode(one, enc_hook=_plain)


def _row(line: bytes) -> Done | DoneShot:
    read: Done | DoneShot = msgspec.json.decode(line, type=Done | DoneShot, dec_hook=_array)
    return read


def _plain(value: object) -> Any:
    if isinstance(value, np.ndarray):
        return value.tolist()
    raise NotImplementedError(type(value).__name__)


def _array(_: type, value: Any) -> Any:
    return np.array(value, np.float64)
