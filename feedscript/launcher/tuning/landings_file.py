"""The file of measured landings: reading it, and writing an empty one to fill in.

A CSV file with a header. A row is one ball: how the launcher was set (``drive_1`` …, ``tilt_deg``,
and ``pan_deg`` and ``roll_deg`` if not 0), and what was measured: ``along_m`` from the point on the
ground below the mouth along the way the launcher faces at pan 0, ``right_m`` to the right of that
line, and if a speed gun or a video was at hand ``speed_mps`` at the mouth and ``flight_s`` from
mouth to bounce. A cell may stay empty where nothing was measured. Lines that begin with # are
comments.
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
from feedscript.launcher.tuning.shots import MEASURED, Shots
from feedscript.nearest import nearest
from feedscript.plain_file import read_plain

_MOST_ROWS = 10_000
_ANGLES = ("pan_deg", "tilt_deg", "roll_deg")
_NEEDED = ("along_m", "right_m")
#: What a measurement may be: anything else is in another unit.
_PLAUSIBLE = {
    "along_m": (-10.0, 80.0),
    "right_m": (-40.0, 40.0),
    "speed_mps": (1.0, 80.0),
    "flight_s": (0.05, 15.0),
    "pan_deg": (-180.0, 180.0),
    "tilt_deg": (-45.0, 90.0),
    "roll_deg": (-180.0, 180.0),
}

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


def read_landings(path: Path, profile: Profile) -> LandingsReading:
    """Read measured landings. Never raises for what a file may hold."""
    source = str(path)
    try:
        text = read_plain(path).decode("utf-8-sig")
    except OSError as error:
        return _unreadable(source, error.strerror or "it cannot be read")
    except UnicodeDecodeError as error:
        return _unreadable(source, f"byte {error.start} is not UTF-8")
    return parse_landings(text, source, profile)


def parse_landings(text: str, source: str, profile: Profile) -> LandingsReading:
    """Read measured landings from a text; ``source`` is the name that diagnostics show."""
    reader = _Rows(source, profile)
    try:
        for number, cells in _rows(text):
            reader.take(number, cells)
    except csv.Error as error:
        reader.report(1, f"it is not a CSV file: {error}", "one ball a line, commas between cells")
    if reader.columns is None:
        reader.report(1, "there is no header", f"begin with: {','.join(columns_of(profile))}")
    elif not reader.settings and not reader.found:
        reader.report(1, "there is no ball in it", "add a row for each ball")
    shots = None
    if not reader.found:
        shots = Shots(tuple(reader.settings), np.array(reader.seen), tuple(reader.lines))
    return LandingsReading(source, text, shots, tuple(reader.found))


def columns_of(profile: Profile) -> tuple[str, ...]:
    """Every column of this launcher's file."""
    drives = tuple(f"drive_{k + 1}" for k in range(len(drive_names(profile.drive))))
    return (*drives, "tilt_deg", "pan_deg", "roll_deg", *MEASURED)


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


def _unreadable(source: str, why: str) -> LandingsReading:
    found = BAD_LANDINGS.report(
        f"the landings cannot be read: {why}", help="check its name and folder", device=source
    )
    return LandingsReading(source, "", None, (found,))


class _Rows(msgspec.Struct):
    """Takes rows one by one and remembers what is wrong with them."""

    source: str
    profile: Profile
    columns: list[str] | None = None
    settings: list[Setting] = []
    seen: list[list[float]] = []
    lines: list[int] = []
    found: list[Diagnostic] = []

    def report(self, line: int, message: str, fix: str) -> None:
        span = Span(self.source, line, 1, line, 2)
        self.found.append(BAD_LANDINGS.report(message, help=fix, span=span))

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
        known = columns_of(self.profile)
        self.columns = cells
        for cell in cells:
            if cell not in known:
                close = nearest(cell, known)
                meant = f"did you mean {close!r}? " if close else ""
                self.report(
                    number, f"no column is called {cell!r}", f"{meant}columns: {', '.join(known)}"
                )
        drives = [name for name in known if name.startswith("drive_")]
        for name in (*drives, "tilt_deg", *_NEEDED):
            if name not in cells:
                self.report(number, f"the column {name!r} is missing", f"add {name} to the header")
        for name in {cell for cell in cells if cells.count(cell) > 1}:
            self.report(number, f"the column {name!r} stands twice", "take one out")

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
        measured = [row.get(name, math.nan) for name in MEASURED]
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
        self.lines.append(number)

    def _cell(self, number: int, name: str, cell: str) -> float:
        if not cell:
            return math.nan
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
