"""Reading a mapping file: every mistake found, each with its place, cause and mend."""

from __future__ import annotations

import re
import tomllib
from pathlib import Path

import msgspec

from feedscript.diagnostics import Diagnostic, Page, Span
from feedscript.launcher.port import LauncherError
from feedscript.launcher.profile.toml_places import key_places, span_of
from feedscript.plain_file import read_plain
from feedscript_drivers.mapped.description.keys import Mapping
from feedscript_drivers.mapped.description.schema import mistakes
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
_MOST_BYTES = 100_000
_AT = re.compile(r"^(?P<what>.*?) \(at line (?P<line>\d+), column (?P<column>\d+)\)$")


class Reading(msgspec.Struct, frozen=True):
    """What became of a mapping's text: the mapping, or None with at least one mistake."""

    mapping: Mapping | None
    diagnostics: tuple[Diagnostic, ...] = ()
    text: str = ""


def read_text(text: str, source: str) -> Reading:
    """A mapping from its text; ``source`` is the name that diagnostics show."""
    try:
        document = tomllib.loads(text)
    except (ValueError, RecursionError) as error:  # ValueError also for endless digits
        return Reading(None, (_syntax(str(error), source),), text)
    found = mistakes(document)
    mapping = None if found else _converted(document)
    if mapping is not None:
        found = nonsense(mapping)
    if not found:
        return Reading(mapping, (), text)
    places = key_places(text, source)
    shown = tuple(
        MAPPING.report(
            one.message, help=one.fix, span=span_of(places, one.path, source, value=not one.in_key)
        )
        for one in found
    )
    return Reading(None, shown, text)


def _converted(document: object) -> Mapping:
    # By way of JSON, where a whole number may be written 1.0, as in the schema.
    return msgspec.json.decode(msgspec.json.encode(document), type=Mapping)


def read_file(path: Path) -> Reading:
    """A mapping from a file. Never raises for what a file may hold."""
    try:
        raw = read_plain(path, _MOST_BYTES)
        if len(raw) > _MOST_BYTES:
            return _unreadable(path, f"it is longer than {_MOST_BYTES} bytes")
        return read_text(raw.decode("utf-8-sig").replace("\r\n", "\n"), str(path))
    except OSError as error:
        return _unreadable(path, error.strerror or str(error))
    except UnicodeDecodeError as error:
        return _unreadable(path, f"byte {error.start} is not UTF-8")


def read_mapping(path: Path) -> Mapping:
    """The mapping in a file. Raises LauncherError: the first mistake, and how many there are."""
    reading = read_file(path)
    if reading.mapping is not None:
        return reading.mapping
    first, *more = reading.diagnostics
    if more:
        many = f"{first.message} (and {len(more)} more; `feedscript mapped check` names them)"
        first = msgspec.structs.replace(first, message=many)
    raise LauncherError(first)


def _unreadable(path: Path, why: str) -> Reading:
    found = MAPPING.report(
        f"the mapping cannot be read: {why}",
        help="name a mapping file that exists",
        device=f"mapped:{path}",
    )
    return Reading(None, (found,))


def _syntax(said: str, source: str) -> Diagnostic:
    match = _AT.match(said)
    line, column = (int(match["line"]), int(match["column"])) if match else (1, 1)
    return MAPPING.report(
        f"the mapping is not valid TOML here: {match['what'] if match else said}",
        help="one `key = value` a line, tables as `[name]`, text in double quotes",
        span=Span(source, line, column, line, column + 1),
    )
