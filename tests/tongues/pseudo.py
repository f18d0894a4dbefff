"""A language in which every word of ours stands between marks, to see what is left outside."""

from __future__ import annotations

from collections.abc import Iterator
from functools import lru_cache
from pathlib import Path

import msgspec

from feedscript.tongues.refresh import key_of, marked, spoken_keys, template
from feedscript.tongues.tongue import FOLDER, Catalogue, Tongue, Tongues

OPENS, CLOSES = "⟦", "⟧"
#: A code that belongs to no language.
LANGUAGE = "qps"


@lru_cache
def catalogue() -> Catalogue:
    """Every text of the sources between marks; one that is not found there has none."""
    words: dict[str, str | list[str]] = {}
    found = marked()
    for message in template(found):
        if not message.id:
            continue
        forms = [message.id] if isinstance(message.id, str) else [*message.id]
        between = [f"{OPENS}{form}{CLOSES}" for form in forms]
        words[key_of(message)] = between[0] if isinstance(message.id, str) else between
    spoken = spoken_keys(found)
    return Catalogue(
        language=LANGUAGE,
        name=f"{OPENS}Marked{CLOSES}",
        comma=False,
        forms="10" + "1" * 198,
        words=words,
        spoken={key: told for key, told in words.items() if key in spoken},
    )


@lru_cache
def tongue() -> Tongue:
    return Tongue(catalogue())


def with_marks(folder: Path) -> Tongues:
    """The languages that there are, and this one."""
    for path in FOLDER.glob("*.json"):
        (folder / path.name).write_bytes(path.read_bytes())
    (folder / f"{LANGUAGE}.json").write_bytes(msgspec.json.encode(catalogue()))
    return Tongues(folder)


def outside(text: str) -> str:
    """What of a text stands outside every mark."""
    return "".join(_outside(text))


def _outside(text: str) -> Iterator[str]:
    depth = 0
    for character in text:
        depth += (character == OPENS) - (character == CLOSES)
        if depth == 0 and character != CLOSES:
            yield character
