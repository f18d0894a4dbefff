"""The JSON Schema of a mapping, as its reader and its page go by it."""

from __future__ import annotations

import functools
from typing import Any

import msgspec

from feedscript_drivers.mapped.description.keys import Mapping


@functools.cache
def schema() -> dict[str, Any]:
    """The schema, in the dialect of JSON Schema 2020-12."""
    return msgspec.json.schema(Mapping)
