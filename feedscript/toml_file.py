"""A small TOML file read as its type: every mistake with its place, its cause and what mends it."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterable
from pathlib import Path
from typing import Final, Generic, TypeVar

import msgspec

from feedscript.diagnostics import Diagnostic, FeedscriptError, Page, Span
from feedscript.plain_file import read_plain
from feedscript.tables import Mistake, held_against
from feedscript.text_file import NotText, text_of
from feedscript.toml_places import key_places, span_of

T = TypeVar("T", bound=msgspec.Struct)

#: More is no file that a person wrote.
MOST_BYTES: Final = 100_000
_AT = re.compile(r"^(?P<what>.*?) \(at line (?P<line>\d+), column (?P<column>\d+)\)$")


class TomlReading(msgspec.Struct, Generic[T], frozen=True):
    """What became of a file: its value, or None with at least one diagnostic."""

    source: str
    page: Page
    value: T | None = None
    diagnostics: tuple[Diagnostic, ...] = ()
    text: str = ""

    def good(self) -> T:
        """The value. Raises FeedscriptError: the first mistake, and how many more there are."""
        if self.value is not None:
            return self.value
        raise FeedscriptError(first_of(self.diagnostics))

    def told(self, mistakes: Iterable[Mistake]) -> tuple[Diagnostic, ...]:
        """Mistakes at their places."""
        places = key_places(self.text, self.source)
        return tuple(
            self.page.report(
                one.message,
                help=one.fix,
                span=span_of(places, one.path, self.source, value=not one.in_key),
            )
            for one in mistakes
        )

    def refused(self, mistakes: Iterable[Mistake]) -> TomlReading[T]:
        """The same file with no value, for these mistakes; as it is where there are none."""
        found = self.told(mistakes)
        return msgspec.structs.replace(self, value=None, diagnostics=found) if found else self


def first_of(diagnostics: tuple[Diagnostic, ...]) -> Diagnostic:
    """The first, which says how many more there are."""
    first, *more = diagnostics
    if not more:
        return first
    return msgspec.structs.replace(first, message=f"{first.message} (and {len(more)} more)")


def read_toml(
    path: Path, kind: type[T], page: Page, most_bytes: int = MOST_BYTES
) -> TomlReading[T]:
    """A file of this kind. Never raises for what a file may hold."""
    try:
        raw = read_plain(path, most_bytes)
    except OSError as error:
        return _unreadable(path, page, error.strerror or "it cannot be read")
    if len(raw) > most_bytes:
        return _unreadable(path, page, f"it is longer than {most_bytes} bytes")
    text = text_of(raw)
    if isinstance(text, NotText):
        return _unreadable(path, page, text.cause, text.fix)
    return read_toml_text(text.replace("\r\n", "\n"), str(path), kind, page)


def read_toml_text(text: str, source: str, kind: type[T], page: Page) -> TomlReading[T]:
    """A text of this kind; ``source`` is the name that diagnostics show."""
    try:
        document = tomllib.loads(text)
    except (ValueError, RecursionError) as error:  # ValueError also for endless digits
        said = _no_toml(str(error), source, page, text)
        return TomlReading(source, page, None, (said,), text)
    reading: TomlReading[T] = TomlReading(source, page, None, (), text)
    mistakes = held_against(msgspec.json.schema(kind), document)
    if mistakes:
        return reading.refused(mistakes)
    # By way of JSON, where a whole number may be written 1.0, as in the schema.
    value = msgspec.json.decode(msgspec.json.encode(document), type=kind)
    return msgspec.structs.replace(reading, value=value)


def _unreadable(
    path: Path, page: Page, why: str, fix: str = "name a file that exists, saved as UTF-8 text"
) -> TomlReading[T]:
    said = page.report(f"it cannot be read: {why}", help=fix, device=str(path))
    return TomlReading(str(path), page, None, (said,))


def _no_toml(said: str, source: str, page: Page, text: str) -> Diagnostic:
    match, lines = _AT.match(said), text.split("\n")
    line, column = len(lines), len(lines[-1]) + 1
    if match:
        line, column = int(match["line"]), int(match["column"])
    return page.report(
        f"it is not TOML: {match['what'] if match else said}",
        help="one `key = value` a line, tables as `[name]`, text in double quotes",
        span=Span(source, line, column, line, column + 1),
    )
