"""What a module says as JSON, held to the schemas of what is said in a club."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from typing import Any

import msgspec

from tests.documents.held import schema_named, wrong

#: What is said by plain tables: by a key that no other has.
_BY_KEY = {
    "diagnostic": "web-refused",
    "courts": "web-overview",
    "may_stop": "web-overview-first",
}


class Overheard:
    """Stands in for ``msgspec`` in a module: what it writes as JSON is looked at."""

    def __init__(self, found: list[str]) -> None:
        self._found = found

    def __getattr__(self, name: str) -> Any:
        return (
            self if name == "json" else getattr(msgspec, name, None) or getattr(msgspec.json, name)
        )

    def encode(self, said: Any, **how: Any) -> bytes:
        written = msgspec.json.encode(said, **how)
        self._found += _strays(said, json.loads(written))
        return written

    def decode(self, written: Any, **how: Any) -> Any:
        """What is read is what its schema takes, and what is refused it refuses."""
        kind = how.get("type")
        name = schema_named(getattr(kind, "__name__", ""))
        try:
            read = msgspec.json.decode(written, **how)
        except msgspec.ValidationError:
            if name is not None and _taken(name, written):
                self._found.append(f"{name} takes what is refused: {written!r:.80}")
            raise
        self._found += [] if name is None else wrong(name, json.loads(written))
        return read


def _taken(name: str, written: Any) -> bool:
    """Whether the schema takes what a reader refused. It takes 1.0 for an integer (JSON Schema
    Validation 2020-12, 6.1.1), and a reader need not; nor is a reader's first word about what is no
    JSON always that."""
    try:
        return not wrong(name, json.loads(written, parse_float=_no_integer))
    except ValueError:
        return False


def _no_integer(digits: str) -> float:
    number = float(digits)
    return number + 0.5 if number.is_integer() else number


def _strays(said: Any, document: Any) -> list[str]:
    if isinstance(said, Sequence):
        return [one for pair in zip(said, document, strict=True) for one in _strays(*pair)]
    if isinstance(said, Mapping):
        name = next((_BY_KEY[key] for key in said if key in _BY_KEY), None)
    else:
        name = schema_named(type(said).__name__)
    return [f"no schema: {document!r:.80}"] if name is None else wrong(name, document)
