"""Everything a report of trouble needs in one file, with the names of players left out."""

from __future__ import annotations

import json
import platform
import sqlite3
import sys
import tempfile
import zipfile
from collections.abc import Iterator
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path
from typing import Any

import msgspec

from feedscript.diagnostics import FeedscriptError, Page
from feedscript.session.journal import open_journal
from feedscript.session.keeping import back_up, forget_player

BUNDLE = Page(
    slug="bundle-file",
    title="A bundle that cannot be written",
    why="A bundle is one zip file; every part named on the command line must be readable.",
)

_LIBRARIES = ("feedscript", "anyio", "trio", "numpy", "pyserial", "bleak", "msgspec", "shapely")
_NAME_KEYS = frozenset(("player", "players", "name", "was", "joins", "leaves"))


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
            for name in sorted(player_names(copy), key=len, reverse=True):
                forget_player(copy, name)
            _without_folders(copy)
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


def _without_folders(journal: Path) -> None:
    """A path tells who somebody is on this machine; the file's name is enough."""
    connection = sqlite3.connect(journal, isolation_level=None)
    try:
        connection.execute("PRAGMA secure_delete = ON")
        for number, source in connection.execute("SELECT id, source FROM session").fetchall():
            bare = Path(source).name
            connection.execute("UPDATE session SET source = ? WHERE id = ?", (bare, number))
        connection.execute("VACUUM")
        connection.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    finally:
        connection.close()


def player_names(journal: Path) -> set[str]:
    """Every name of a player that stands anywhere in a journal."""
    open_journal(journal).close()
    connection = sqlite3.connect(journal)
    try:
        names = {row[0] for row in connection.execute("SELECT DISTINCT player FROM ball")}
        for group, plan in connection.execute("SELECT group_json, plan FROM session"):
            names.update(_names(_decoded(group)))
            planned = _decoded(plan)
            if isinstance(planned, dict):
                names.update(_names(planned.get("group")))
        for (data,) in connection.execute("SELECT data FROM entry"):
            names.update(_names(_decoded(data)))
    finally:
        connection.close()
    return {name for name in names if name and not name.isspace()}


def _decoded(text: str | bytes) -> Any:
    try:
        return msgspec.json.decode(text)
    except msgspec.DecodeError:
        return None


def _names(value: Any) -> Iterator[str]:
    """Texts under keys that name players; a lone text in a list of players counts too."""
    if isinstance(value, list):
        for each in value:
            yield from _names(each)
    elif isinstance(value, dict):
        for key, inner in value.items():
            if key in _NAME_KEYS:
                texts = inner if isinstance(inner, list) else [inner]
                yield from (text for text in texts if isinstance(text, str))
            yield from _names(inner)


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
