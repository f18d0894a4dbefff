"""Everything a report of trouble needs in one file, with the names of players left out."""

from __future__ import annotations

import json
import platform
import sys
import tempfile
import zipfile
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path

from feedscript.diagnostics import FeedscriptError, Page
from feedscript.session.keeping import back_up, forget_everyone

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
    target: Path, *, journal: Path | None, profile: Path | None, capture: Path | None
) -> list[str]:
    """Write the zip; the names of its parts. Raises FeedscriptError for a part that is not there.

    The journal goes in as a copy in which every player is forgotten.
    """
    with tempfile.TemporaryDirectory() as folder:
        parts = {"versions.json": json.dumps(versions(), indent=2).encode("utf-8")}
        if journal is not None:
            copy = Path(folder) / "journal.sqlite"
            back_up(journal, copy)
            forget_everyone(copy)
            parts["journal.sqlite"] = copy.read_bytes()
        for inside, path in (("profile.toml", profile), ("wire.capture", capture)):
            if path is not None:
                parts[inside] = _read(path)
    try:
        with zipfile.ZipFile(target, "w", zipfile.ZIP_DEFLATED) as archive:
            for inside, data in parts.items():
                archive.writestr(inside, data)
    except OSError as error:
        raise _trouble(target, error) from error
    return list(parts)


def _read(path: Path) -> bytes:
    try:
        return path.read_bytes()
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
