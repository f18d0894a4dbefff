"""Everything a report of trouble needs in one file, with the names of players left out."""

from __future__ import annotations

import io
import json
import platform
import sys
import tempfile
import zipfile
from collections.abc import Sequence
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path

import msgspec

from feedscript.diagnostics import FeedscriptError, Page
from feedscript.host.private_file import write_private
from feedscript.journal.redaction import without_names
from feedscript.journal.retention import back_up, forget_everyone, names_in
from feedscript.launcher.fault_log import FaultLog
from feedscript.plain_file import read_plain

BUNDLE = Page(
    slug="bundle-file",
    title="A bundle that cannot be written",
    why="A bundle is one zip file; every part named on the command line must be readable.",
)

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
    parts = {"versions.json": json.dumps(versions(), indent=2).encode("utf-8")}
    names: set[str] = set()
    if journal is not None:
        names = names_in(journal)
        parts["journal.sqlite"] = _without_people(journal)
    if profile is not None:
        parts["profile.toml"] = _without_names(_read(profile), names)
    for number, capture in enumerate(captures, start=1):
        inside = "wire.capture" if number == 1 else f"wire-{number}.capture"
        parts[inside] = _without_names(_read(capture), names)
    if fault_log is not None:
        told = msgspec.json.format(msgspec.json.encode(fault_log), indent=2)
        parts["fault-log.json"] = _without_names(told, names)
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED) as archive:
        for inside, data in parts.items():
            archive.writestr(inside, data)
    try:
        write_private(target, packed.getvalue())
    except OSError as error:
        raise _trouble(target, error) from error
    return list(parts)


def _without_people(journal: Path) -> bytes:
    with tempfile.TemporaryDirectory() as folder:
        copy = Path(folder) / "journal.sqlite"
        back_up(journal, copy)
        forget_everyone(copy)
        return copy.read_bytes()


def _without_names(data: bytes, names: set[str]) -> bytes:
    """A text, whatever its encoding, in which these names are replaced."""
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
