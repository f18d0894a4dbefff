"""Reading a mapping file: every mistake found, each with its place, cause and mend."""

from __future__ import annotations

from pathlib import Path

import msgspec

from feedscript.diagnostics import Page
from feedscript.launcher.port import LauncherError
from feedscript.toml_file import TomlReading, read_toml, read_toml_text
from feedscript_drivers.mapped.description.keys import Mapping
from feedscript_drivers.mapped.description.sense import nonsense

MAPPING = Page(
    slug="mapping-file",
    title="A mapping of another launcher's language that cannot be used",
    why=(
        "A mapping says how a device spells speed, aim, feed and stop, and what it answers; "
        "`feedscript mapped keys` has every key with examples, and `feedscript mapped check FILE` "
        "finds every mistake at once. What a device cannot do (stop by itself when the host falls "
        "silent, be stopped, say that a ball left) must be accepted in the file with a reason, "
        "and is said again before each run. Nothing is assumed where a key is missing."
    ),
)


def read_text(text: str, source: str) -> TomlReading[Mapping]:
    """A mapping from its text; ``source`` is the name that diagnostics show."""
    return _sensible(read_toml_text(text, source, Mapping, MAPPING))


def read_file(path: Path) -> TomlReading[Mapping]:
    """A mapping from a file. Never raises for what a file may hold."""
    return _sensible(read_toml(path, Mapping, MAPPING))


def _sensible(reading: TomlReading[Mapping]) -> TomlReading[Mapping]:
    return reading if reading.value is None else reading.refused(nonsense(reading.value))


def read_mapping(path: Path) -> Mapping:
    """The mapping in a file. Raises LauncherError: the first mistake, and how many there are."""
    reading = read_file(path)
    if reading.value is not None:
        return reading.value
    first, *more = reading.diagnostics
    if more:
        many = f"{first.message} (and {len(more)} more; `feedscript mapped check` names them)"
        first = msgspec.structs.replace(first, message=many)
    raise LauncherError(first)
