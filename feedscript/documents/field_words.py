"""What a field of a document means: the comment behind it in the source, or above it after ``#:``.

A field that says nothing of its own is called what the same field is called everywhere (``words``).
Numbers carry their unit in their name, and the words say it.
"""

from __future__ import annotations

import ast
import inspect
import io
import textwrap
import tokenize
from collections.abc import Mapping
from functools import cache
from typing import Any, Final

import msgspec

from feedscript.documents.words import WORDS

#: How a name ends, and the unit that stands for. The longest ending counts.
UNITS: Final[Mapping[str, str]] = {
    "_m": "m",
    "_m2": "m²",
    "_mm": "mm",
    "_s": "s",
    "_mps": "m/s",
    "_deg": "degrees",
    "_rpm": "rpm",
    "_px": "pixels",
    "_hz": "Hz",
    "_v": "V",
    "_c": "°C",
    "_hpa": "hPa",
    "_utc_s": "s of UTC since 1970",
    "_kgm3": "kg/m³",
}


def said_of(struct: type[msgspec.Struct], name: str) -> str:
    """What a field means, with its unit; empty where nobody says it."""
    words = own_words(struct, name) or next(
        (WORDS[key] for key in (f"{struct.__name__}.{name}", name) if key in WORDS), ""
    )
    unit = unit_of(name)
    return f"{words}, {unit}" if words and unit and not words.endswith(unit) else words or unit


def own_words(struct: type[msgspec.Struct], name: str) -> str:
    """The comment at the field, in the struct that declares it."""
    for base in struct.__mro__:
        if name in inspect.get_annotations(base):
            return _comments(base).get(name, "")
    return ""


def unit_of(name: str) -> str:
    """The unit in a field's name; empty for what has none."""
    ends = [ending for ending in UNITS if name.endswith(ending)]
    return UNITS[max(ends, key=len)] if ends else ""


@cache
def _comments(struct: type[Any]) -> dict[str, str]:
    """The comments at every field of a struct."""
    source = textwrap.dedent(inspect.getsource(struct))
    tokens = tokenize.generate_tokens(io.StringIO(source).readline)
    lines = source.split("\n")
    comments = {one.start[0]: one.string for one in tokens if one.type == tokenize.COMMENT}
    (tree,) = ast.parse(source).body
    assert isinstance(tree, ast.ClassDef)
    found = {}
    for node in tree.body:
        if isinstance(node, ast.AnnAssign) and isinstance(node.target, ast.Name):
            beside = comments.get(node.end_lineno or 0, "").lstrip("# ")
            found[node.target.id] = beside or _above(node.lineno - 1, lines)
    return found


def _above(number: int, lines: list[str]) -> str:
    """The lines of a comment that ends just above, where it begins with ``#:``."""
    found: list[str] = []
    while number and (line := lines[number - 1].strip()).startswith("#"):
        found.insert(0, line.lstrip("#: "))
        if line.startswith("#:"):
            return " ".join(found)
        number -= 1
    return ""
