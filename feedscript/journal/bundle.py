"""Everything a report of trouble needs in one file, with the names of players left out."""

from __future__ import annotations

import json
import platform
import re
import sys
import tempfile
import time
import zipfile
from collections.abc import Iterable, Iterator, Sequence
from functools import partial
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path

import msgspec

from feedscript.diagnostics import FeedscriptError, Page
from feedscript.host.private_file import copy_private
from feedscript.journal.redaction import without_names
from feedscript.journal.retention import back_up, forget_everyone, names_in
from feedscript.launcher.fault_log import FaultLog
from feedscript.plain_file import open_plain, read_plain

BUNDLE = Page(
    slug="bundle-file",
    title="A bundle that cannot be written",
    why="A bundle is one zip file; every part named on the command line must be readable.",
)

_PIECE_BYTES = 1 << 18
#: A line of a capture: when it crossed, and which way.
_MOMENT = re.compile(rb"\d+\.\d+ [<>] ")
_LIBRARIES = ("feedscript", "anyio", "trio", "numpy", "pyserial", "bleak", "msgspec", "shapely")


def versions() -> dict[str, str]:
    """What runs here: system, Python, libraries. No host name, no user name."""
    found = {"python": sys.version.split()[0], "system": platform.platform(terse=True)}
    for library in _LIBRARIES:
        try:
            found[library] = version(library)
        except PackageNotFoundError:
            found[library] = "not installed"
    return found


def write_bundle(
    target: Path,
    *,
    journal: Path | None = None,
    profile: Path | None = None,
    captures: Sequence[Path] = (),
    fault_log: FaultLog | None = None,
) -> list[str]:
    """Write the zip; the names of its parts. Raises FeedscriptError for a part that is not there.

    The journal goes in as a copy in which every player is forgotten; whatever else goes in loses
    the names that stand in the journal, though a capture may then no longer be played back whole.
    """
    with tempfile.TemporaryFile() as packed:
        with zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED) as archive:
            _pack(archive, "versions.json", [json.dumps(versions(), indent=2).encode("utf-8")])
            names: set[str] = set()
            if journal is not None:
                names = names_in(journal)
                _pack(archive, "journal.sqlite", _without_people(journal))
            if profile is not None:
                _pack(archive, "profile.toml", [_without_names(_read(profile), names)])
            for number, capture in enumerate(captures, start=1):
                inside = "wire.capture" if number == 1 else f"wire-{number}.capture"
                _pack(archive, inside, _capture_without_names(capture, names))
            if fault_log is not None:
                told = msgspec.json.format(msgspec.json.encode(fault_log), indent=2)
                _pack(archive, "fault-log.json", [_without_names(told, names)])
            parts = archive.namelist()
        packed.seek(0)
        try:
            copy_private(target, packed)
        except OSError as error:
            raise _trouble(target, error) from error
    return parts


def _pack(archive: zipfile.ZipFile, inside: str, pieces: Iterable[bytes]) -> None:
    """One part, of which no more than a piece is ever in memory: a capture may have any length."""
    info = zipfile.ZipInfo(inside, time.localtime()[:6])
    info.compress_type, info.external_attr = zipfile.ZIP_DEFLATED, 0o600 << 16
    with archive.open(info, "w", force_zip64=True) as part:
        for piece in pieces:
            part.write(piece)


def _without_people(journal: Path) -> Iterator[bytes]:
    with tempfile.TemporaryDirectory() as folder:
        copy = Path(folder) / "journal.sqlite"
        back_up(journal, copy)
        forget_everyone(copy)
        with copy.open("rb") as file:
            yield from iter(partial(file.read, _PIECE_BYTES), b"")


def _capture_without_names(path: Path, names: set[str]) -> Iterator[bytes]:
    """A capture in pieces, in which these names are replaced. A piece ends only where a line with
    its moment begins: no name goes on over one, as it may over the end of a line of other files."""
    piece = bytearray()
    try:
        with open_plain(path) as file:
            for line in file:
                if len(piece) > _PIECE_BYTES and _MOMENT.match(line):
                    yield _without_names(bytes(piece), names)
                    piece.clear()
                piece += line
    except OSError as error:
        raise _trouble(path, error) from error
    yield _without_names(bytes(piece), names)


def _without_names(data: bytes, names: set[str]) -> bytes:
    """A text, whatever its encoding, in which these names are replaced."""
    if not names:
        return data
    text = without_names(names)(data.decode("utf-8", errors="surrogateescape"))
    return text.encode("utf-8", errors="surrogateescape")


def _read(path: Path) -> bytes:
    try:
        return read_plain(path)
    except OSError as error:
        raise _trouble(path, error) from error


def _trouble(path: Path, error: OSError) -> FeedscriptError:
    return FeedscriptError(
        BUNDLE.report(
            f"{path}: {error.strerror or error}",
            help="name a file that exists, and a target in a folder that may be written",
            device=str(path),
        )
    )
