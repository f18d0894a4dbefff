"""The JSON Schema of a mapping.

``python -m feedscript_drivers.mapped.description.schema`` writes the schema's file anew.
"""

from __future__ import annotations

import functools
import json
from pathlib import Path
from typing import Any, Final

import msgspec

from feedscript.tables import Mistake, held_against
from feedscript_drivers.mapped.description.keys import Mapping

SCHEMA_FILE: Final = Path(__file__).with_name("mapping.schema.json")


@functools.cache
def schema() -> dict[str, Any]:
    """The schema, in the dialect of JSON Schema 2020-12."""
    made = msgspec.json.schema(Mapping)
    name = "tag:feedscript.example,2026:schema/mapping/1"
    head = {"$schema": "https://json-schema.org/draft/2020-12/schema", "$id": name}
    return {**head, "title": "mapping", **made}


def as_text(made: dict[str, Any]) -> str:
    return json.dumps(made, indent=2, ensure_ascii=False) + "\n"


def shipped() -> str:
    """The schema's file."""
    return SCHEMA_FILE.read_text(encoding="utf-8")


def mistakes(document: Any) -> list[Mistake]:
    """Every mistake of a document that the schema can name; none when it fits."""
    return held_against(schema(), document)


if __name__ == "__main__":
    SCHEMA_FILE.write_text(as_text(schema()), encoding="utf-8")
