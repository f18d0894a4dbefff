"""The schemas as they are shipped: files beside this one, made by ``feedscript.documents.refresh``.

Reading them needs none of the types from which they are made.
"""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any, Final

FOLDER: Final = Path(__file__).parent / "schemas"
ENDING: Final = ".schema.json"


def schema_names() -> tuple[str, ...]:
    """Every document that has a schema here."""
    return tuple(sorted(path.name.removesuffix(ENDING) for path in FOLDER.glob(f"*{ENDING}")))


def file_of(name: str) -> str:
    """What the file of a schema is called."""
    return f"{name}{ENDING}"


def schema_text(name: str) -> str:
    """A schema's file. Raises KeyError for a name that is none."""
    path = FOLDER / file_of(name)
    if name not in schema_names():
        raise KeyError(name)
    return path.read_text(encoding="utf-8")


def schema(name: str) -> dict[str, Any]:
    """A schema. Raises KeyError for a name that is none."""
    found: dict[str, Any] = json.loads(schema_text(name))
    return found


def says(made: dict[str, Any]) -> str:
    """What such a document is, in a sentence."""
    own = made["$defs"][made["$ref"].rpartition("/")[2]]
    return " ".join(own["description"].split()).replace("``", "`")
