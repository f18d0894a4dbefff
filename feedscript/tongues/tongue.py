"""One language, with its catalogue; and the languages that there are.

A catalogue is read from the JSON that ``refresh`` makes of its ``.po`` file; the page is given the
part of the same file that its scripts say. English needs none.
"""

from __future__ import annotations

from collections.abc import Mapping
from functools import lru_cache
from pathlib import Path
from string import Formatter
from typing import Any

import msgspec

from feedscript.override import override
from feedscript.tongues.text import Text

#: The language of the words in the sources.
ENGLISH = "en"
FOLDER = Path(__file__).parent


class Catalogue(msgspec.Struct, frozen=True):
    """What ``refresh`` writes for one language.

    ``forms`` has the number of the form for 0 to 199 of something; from 200 on they come again by
    the hundred, as in every rule that gettext's manual lists (Plural forms). ``spoken`` is what is
    said in the scripts of the page.
    """

    language: str
    name: str
    comma: bool  # stands before the decimals
    forms: str
    words: dict[str, str | list[str]] = {}
    spoken: dict[str, str | list[str]] = {}


class _Numbers(Formatter):
    """Formats numbers with a comma before the decimals."""

    @override
    def format_field(self, value: Any, format_spec: str) -> Any:
        found = super().format_field(value, format_spec)
        return found.replace(".", ",") if isinstance(value, float) else found


class Tongue(msgspec.Struct, frozen=True, eq=False):
    """A language to tell texts in. Called with a value, as msgspec's ``enc_hook`` is."""

    catalogue: Catalogue

    @property
    def language(self) -> str:
        return self.catalogue.language

    def __call__(self, value: object) -> str:
        """A text in this language, or in its own; other words as they are."""
        if isinstance(value, Text):
            own = Tongues().named(value.made.language)
            return (own or self)._told(value)
        if isinstance(value, str):
            return value
        raise NotImplementedError(f"{type(value).__name__} is no text")

    def form(self, count: int) -> int:
        """Which form so many take."""
        number = abs(count)
        return int(self.catalogue.forms[number if number < 200 else 100 + number % 100])

    def _told(self, text: Text) -> str:
        made = text.made
        found = self.catalogue.words.get(made.key) if made.key else made.words
        if isinstance(found, list):
            found = found[self.form(made.n or 0)]
        if found is None:
            found = made.words
        parts = {name: self._part(part) for name, part in made.parts.items()}
        try:
            return self._formatted(found, parts)
        except (LookupError, ValueError):  # a catalogue with a wrong part: English is better
            return str(text)

    def _part(self, part: object) -> object:
        return self(part) if isinstance(part, str) else part

    def _formatted(self, pattern: str, parts: Mapping[str, Any]) -> str:
        if self.catalogue.comma:
            return _Numbers().vformat(pattern, (), parts)
        return pattern.format_map(parts)


IN_ENGLISH = Tongue(Catalogue(ENGLISH, "English", comma=False, forms="10" + "1" * 198))


@lru_cache
def _read(path: Path) -> Tongue:
    return Tongue(msgspec.json.decode(path.read_bytes(), type=Catalogue))


class Tongues(msgspec.Struct, frozen=True):
    """The languages that there are: English, and one for each catalogue of a folder."""

    folder: Path = FOLDER

    @property
    def languages(self) -> tuple[str, ...]:
        return (ENGLISH, *sorted(path.stem for path in self.folder.glob("*.json")))

    def named(self, language: str) -> Tongue | None:
        """The language of this code; None where there is no catalogue of it."""
        if language in ("", ENGLISH):
            return IN_ENGLISH if language else None
        return _read(self.folder / f"{language}.json") if language in self.languages else None

    def wanted(self, header: str) -> Tongue | None:
        """The first that there is of those that a browser asks for (RFC 9110, 12.5.4)."""
        for asked in sorted(header.split(","), key=_quality, reverse=True):
            found = self.named(asked.partition(";")[0].strip().lower().partition("-")[0])
            if found is not None and _quality(asked) > 0.0:
                return found
        return None


def _quality(asked: str) -> float:
    try:
        return float(asked.partition("q=")[2] or 1.0)
    except ValueError:
        return 0.0
