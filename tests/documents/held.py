"""Documents held to their schemas by a library that knows nothing of how they were made."""

from __future__ import annotations

from functools import cache
from typing import Any

import jsonschema_rs

from feedscript.documents.shipped import schema, schema_names
from feedscript.launcher.tools import tool


@cache
def _validator(name: str) -> jsonschema_rs.Draft202012Validator:
    made = tool("mapping-schema")() if name == "mapping" else schema(name)
    return jsonschema_rs.Draft202012Validator(made, validate_formats=True)


def wrong(name: str, document: Any) -> list[str]:
    """What the schema of this name has against a document: where, and what."""
    return [
        f"{name}: {'/'.join(map(str, one.instance_path))}: {one.message}"
        for one in _validator(name).iter_errors(document)
    ]


def strays(document: Any) -> list[str]:
    """What its own schema has against a document, which says its name."""
    name = document.get("document") if isinstance(document, dict) else None
    return wrong(name, document) if name in schema_names() else [f"no document: {document!r:.80}"]
