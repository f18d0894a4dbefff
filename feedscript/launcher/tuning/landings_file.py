"""The file of measured landings: reading it, and writing an empty one to fill in.

A CSV file with a header. A row is one ball: how the launcher was set (``drive_1`` …, ``tilt_deg``,
and ``pan_deg`` and ``roll_deg`` if not 0), and what was measured: ``along_m`` from the point on the
ground below the mouth along the way the launcher faces at pan 0, ``right_m`` to the right of that
line, and if a speed gun or a video was at hand ``speed_mps`` at the mouth and ``flight_s`` from
mouth to bounce. A cell may stay empty where nothing was measured. Lines that begin with # are
comments.

In place of ``along_m`` and ``right_m`` a file may hold two tapes from two marks, or places on the
court: see ``places``. There too: how surely each single ball was measured.
"""

from __future__ import annotations

import csv
import io
import math
from collections.abc import Sequence
from pathlib import Path

import msgspec
import numpy as np

from feedscript.diagnostics import Diagnostic, Page, Span
from feedscript.launcher.kinematics import drive_names, drive_unit
from feedscript.launcher.profile.model import Profile
from feedscript.launcher.setting import Setting
from feedscript.launcher.tuning.design import Proposal
from feedscript.launcher.tuning.places import (
    COURT,
    MARKS,
    PLAIN,
    SIDE,
    SURENESS,
    WAYS,
    NoPlace,
    place_of,
)
from feedscript.launcher.tuning.shots import BY_HAND, MEASURED, Array, Shots, Tape
from feedscript.nearest import nearest
from feedscript.plain_file import read_plain
from feedscript.text_file import NotText, text_of

_MOST_ROWS = 10_000
_ANGLES = ("pan_deg", "tilt_deg", "roll_deg")
#: What a measurement may be: anything else is in another unit.
_PLAUSIBLE = {
    "along_m": (-10.0, 80.0),
    "right_m": (-40.0, 40.0),
    "speed_mps": (1.0, 80.0),
    "flight_s": (0.05, 15.0),
    "pan_deg": (-180.0, 180.0),
    "tilt_deg": (-45.0, 90.0),
    "roll_deg": (-180.0, 180.0),
    "tape_a_m": (0.0, 80.0),
    "tape_b_m": (0.0, 80.0),
    "facing_deg": (-180.0, 180.0),
    "correlation": (-0.999, 0.999),
    **dict.fromkeys(("sd_m", "sd_along_m", "sd_right_m"), (0.001, 5.0)),
    **dict.fromkeys((*MARKS, *COURT, "launcher_x_m", "launcher_y_m"), (-80.0, 80.0)),
}
_SIDES = {"left": -1.0, "right": 1.0}

BAD_LANDINGS = Page(
    slug="bad-landings",
    title="A file of landings that cannot be used",
    why=(
        "Tuning believes what is written in the file, so a row that cannot be read is an error and "
        "is never skipped: correct it or take it out. The header names each column with its unit; "
        "`feedscript tune --launcher PROFILE --propose -o FILE.csv` writes a file with "
        "the right columns."
    ),
)


class LandingsReading(msgspec.Struct, frozen=True):
    """What became of a file: the shots, or None with at least one error."""

    source: str
    text: str
    shots: Shots | None
    diagnostics: tuple[Diagnostic, ...]


def read_landings(path: Path, profile: Profile, tape: Tape = BY_HAND) -> LandingsReading:
    """Read measured landings. Never raises for what a file may hold."""
    source = str(path)
    try:
        text = text_of(read_plain(path))
    except OSError as error:
        return _unreadable(source, error.strerror or "it cannot be read")
    if isinstance(text, NotText):
        return _unreadable(source, text.cause, text.fix)
    return parse_landings(text, source, profile, tape)


def parse_landings(
    text: str, source: str, profile: Profile, tape: Tape = BY_HAND
) -> LandingsReading:
    """Read measured landings from a text; ``source`` is the name that diagnostics show.

    ``tape`` says how surely two tapes fix a place where a row does not say it itself.
    """
    reader = _Rows(source, profile, tape)
    try:
        for number, cells in _rows(text):
            if reader.columns is None and len(cells) == 1 and ";" in cells[0]:
                # As a table is saved where a comma is the mark of fractions.
                fix = "in an editor replace every comma by a full stop, then every ; by a comma"
                reader.report(number, "semicolons stand between the cells", fix)
                return LandingsReading(source, text, None, tuple(reader.found))
            reader.take(number, cells)
    except csv.Error as error:
        reader.report(1, f"it is not a CSV file: {error}", "one ball a line, commas between cells")
    if reader.columns is None:
        reader.report(1, "there is no header", f"begin with: {','.join(columns_of(profile))}")
    elif not reader.settings and not reader.found:
        reader.report(1, "there is no ball in it", "add a row for each ball")
    shots = None
    if not reader.found:
        shots = reader.shots()
    return LandingsReading(source, text, shots, tuple(reader.found))


def columns_of(profile: Profile) -> tuple[str, ...]:
    """The columns of the file that a person with one tape fills in."""
    drives = tuple(f"drive_{k + 1}" for k in range(len(drive_names(profile.drive))))
    return (*drives, "tilt_deg", "pan_deg", "roll_deg", *MEASURED)


def every_column_of(profile: Profile) -> tuple[str, ...]:
    """Every column that this launcher's file may have."""
    return (*columns_of(profile), *(name for way in WAYS[1:] for name in way), SIDE, *SURENESS)


def blank_file(profile: Profile, proposals: Sequence[Proposal]) -> str:
    """A file to print out and fill in: one row for each proposed ball."""
    named = ", ".join(
        f"drive_{k + 1} = {name} in {drive_unit(profile.drive)}"
        for k, name in enumerate(drive_names(profile.drive))
    )
    out = io.StringIO()
    out.write(f"# Landings of {profile.name}. {named}.\n")
    out.write("# along_m: from below the mouth along the way it faces; right_m: to the right.\n")
    out.write("# speed_mps and flight_s may stay empty.\n")
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(columns_of(profile))
    for one in proposals:
        setting = one.setting
        row = [f"{drive:g}" for drive in setting.drives]
        row += [f"{setting.tilt_deg:g}", f"{setting.pan_deg:g}", f"{setting.roll_deg:g}"]
        for _ in range(one.balls):
            writer.writerow([*row, "", "", "", ""])
    return out.getvalue()


def _rows(text: str) -> list[tuple[int, list[str]]]:
    rows = []
    for number, line in enumerate(text.replace("\r\n", "\n").split("\n"), start=1):
        if line.strip() and not line.lstrip().startswith("#"):
            cells = next(csv.reader([line], strict=True), [])
            rows.append((number, [cell.strip() for cell in cells]))
    return rows


def _unreadable(source: str, why: str, fix: str = "check its name and folder") -> LandingsReading:
    found = BAD_LANDINGS.report(f"the landings cannot be read: {why}", help=fix, device=source)
    return LandingsReading(source, "", None, (found,))


class _Rows(msgspec.Struct):
    """Takes rows one by one and remembers what is wrong with them."""

    source: str
    profile: Profile
    tape: Tape
    columns: list[str] | None = None
    settings: list[Setting] = []
    seen: list[list[float]] = []
    own: list[Array | None] = []
    lines: list[int] = []
    found: list[Diagnostic] = []

    def report(self, line: int, message: str, fix: str) -> None:
        span = Span(self.source, line, 1, line, 2)
        self.found.append(BAD_LANDINGS.report(message, help=fix, span=span))

    def shots(self) -> Shots:
        """The balls that were taken."""
        own = None
        if any(one is not None for one in self.own):
            own = np.array([np.full((2, 2), np.nan) if one is None else one for one in self.own])
        shots = Shots(tuple(self.settings), np.array(self.seen), tuple(self.lines), own)
        return shots if self.profile.sweep is None else shots.without_direction()

    def take(self, number: int, cells: list[str]) -> None:
        if self.columns is None:
            self._header(number, cells)
        elif len(self.lines) >= _MOST_ROWS:
            if len(self.lines) == _MOST_ROWS:
                self.lines.append(number)
                self.report(number, f"more than {_MOST_ROWS} balls", "split the file")
        else:
            self._ball(number, cells)

    def _header(self, number: int, cells: list[str]) -> None:
        known = every_column_of(self.profile)
        self.columns = cells
        for cell in cells:
            if cell not in known:
                close = nearest(cell, known)
                meant = f"did you mean {close!r}? " if close else ""
                self.report(
                    number, f"no column is called {cell!r}", f"{meant}columns: {', '.join(known)}"
                )
        drives = [name for name in known if name.startswith("drive_")]
        for name in (*drives, "tilt_deg", *self._way(number, cells)):
            if name not in cells:
                self.report(number, f"the column {name!r} is missing", f"add {name} to the header")
        for name in {cell for cell in cells if cells.count(cell) > 1}:
            self.report(number, f"the column {name!r} stands twice", "take one out")

    def _way(self, number: int, cells: list[str]) -> tuple[str, ...]:
        """The columns that tell where a ball landed, in the one way that this file takes."""
        ways = [way for way in WAYS if {*way[:2]} & {*cells}]
        if len(ways) > 1:
            names = " and ".join(way[0] for way in ways)
            self.report(number, f"{names} stand in one file", "keep one way of measuring a file")
        return ways[0] if ways else PLAIN

    def _ball(self, number: int, cells: list[str]) -> None:
        assert self.columns is not None
        if len(cells) != len(self.columns):
            self.report(
                number,
                f"{len(cells)} cells where the header has {len(self.columns)}",
                "leave a cell empty between two commas where nothing was measured",
            )
            return
        before = len(self.found)
        row = {
            name: self._cell(number, name, cell)
            for name, cell in zip(self.columns, cells, strict=True)
        }
        if len(self.found) > before:
            return
        drives = sorted(name for name in row if name.startswith("drive_"))
        pan, tilt, roll = (row.get(name, math.nan) for name in _ANGLES)
        if any(math.isnan(row[name]) for name in drives) or math.isnan(tilt):
            self.report(number, "the setting is not complete", "give every drive and the tilt")
            return
        place = place_of(row, self.tape.along_m)
        if isinstance(place, NoPlace):
            self.report(number, place.message, place.fix)
            return
        rest = [row.get(name, math.nan) for name in MEASURED[2:]]
        measured = [place.along_m, place.right_m, *rest]
        if all(map(math.isnan, measured)):
            self.report(number, "nothing was measured", "fill it in, or take the row out")
            return
        self.settings.append(
            Setting(
                drives=tuple(row[name] for name in drives),
                pan_deg=0.0 if math.isnan(pan) else pan,
                tilt_deg=tilt,
                roll_deg=0.0 if math.isnan(roll) else roll,
            )
        )
        self.seen.append(measured)
        self.own.append(place.own)
        self.lines.append(number)

    def _cell(self, number: int, name: str, cell: str) -> float:
        if not cell:
            return math.nan
        if name == SIDE:
            if cell not in _SIDES:
                self.report(number, f"side is {cell!r}", "write left or right")
            return _SIDES.get(cell, math.nan)
        try:
            value = float(cell)
        except ValueError:
            self.report(number, f"{name} is {cell!r}, which is no number", "write 12.34")
            return math.nan
        low, high = _PLAUSIBLE.get(name, (0.0, 20_000.0))
        if not low <= value <= high:
            self.report(
                number,
                f"{name} is {value:g}, which is not between {low:g} and {high:g}",
                "check the number and its unit",
            )
        return value
