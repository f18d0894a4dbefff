"""Documents held to their schemas by a library that knows nothing of how they were made."""

from __future__ import annotations

import json
from functools import cache
from typing import Any

import jsonschema_rs

from feedscript.documents.shipped import schema, schema_names


@cache
def _validator(name: str) -> jsonschema_rs.Draft202012Validator:
    return jsonschema_rs.Draft202012Validator(schema(name), validate_formats=True)


def wrong(name: str, document: Any) -> list[str]:
    """What the schema of this name has against a document: where, and what."""
    return [
        f"{name}: {'/'.join(map(str, one.instance_path))}: {one.message}"
        for one in _validator(name).iter_errors(document)
    ]


def disagreed(raw: dict[str, Any], document: Any, refused: bool) -> list[str]:
    """What a file's reader and its schema do not see alike. ``raw``: what the reader went by."""
    name = schema_named(raw["$ref"].rpartition("/")[2])
    assert name is not None, raw["$ref"]
    found = wrong(name, document) if _is_json(document) else ["no JSON"]
    return [] if bool(found) == refused else [f"{name}: {found}, and refused is {refused}"]


@cache
def _names() -> dict[str, str]:
    made = {name: schema(name)["$ref"].rpartition("/")[2] for name in schema_names()}
    return {kind: name for name, kind in made.items()}


def schema_named(kind: str) -> str | None:
    """The schema that is made from the type of this name, if there is one."""
    return _names().get(kind)


def _is_json(document: Any) -> bool:
    """TOML has moments, and numbers that are none."""
    try:
        json.dumps(document, allow_nan=False)
    except (TypeError, ValueError):
        return False
    return True


def strays(document: Any) -> list[str]:
    """What its own schema has against a document, which says its name."""
    name = document.get("document") if isinstance(document, dict) else None
    return wrong(name, document) if name in schema_names() else [f"no document: {document!r:.80}"]
