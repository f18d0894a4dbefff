"""The pages of every document and each of its fields, made from the schemas."""

from __future__ import annotations

import inspect
import json
import types
from collections.abc import Iterator, Mapping
from typing import Any, Final

from feedscript.documents.field_words import unit_of
from feedscript.documents.made import ROOMS, types_of

_HEAD: Final = """# The project's data

What `--format json` prints, and what is written into files, is described here field by field, and
for programs as JSON Schema (2020-12): `feedscript schema` lists the schemas, `feedscript schema
NAME` prints one, and `feedscript schema -o FOLDER` writes them all.

A document begins with its name and the number of its format (`"document": "check", "format": 1`).
The number goes up when a field goes away or comes to mean something else. A field that is new
leaves it as it is, so a program that reads a document passes over what it does not know; the schema
knows all the fields of its own version of feedscript, and no others. A file that has its number
under another key says so below.

Moments are ISO 8601 with their offset from UTC. Numbers have the unit in their name. Places are in
court axes, in metres: x to the ad side as the receiver looks, y from the net to the receiver, the
origin on the ground under the middle of the net.

How an editor completes a launcher's profile, or any other file, by its schema is in [the chapter on
profiles](../../programs/launchers/README.md#an-editor-that-knows-the-keys). Tables, as CSV, for
spreadsheets and as Parquet, are in [the chapter on reviews](../../feedscript/review/README.md).

These pages are made from the program (`python -m feedscript.documents.refresh`).

| page | documents |
|---|---|
"""


def pages(made: Mapping[str, dict[str, Any]]) -> dict[str, str]:
    """Each page in Markdown, by its file's name."""
    written = {f"{_name(room)}.md": _page(room, made) for room in ROOMS}
    return {"README.md": _contents(), **written}


def _contents() -> str:
    rows = []
    for room in ROOMS:
        names = ", ".join(f"[{one}]({_name(room)}.md#{one})" for one in types_of(room))
        rows.append(f"| [{_name(room)}]({_name(room)}.md) | {names} |\n")
    return _HEAD + "".join(rows)


def _name(room: types.ModuleType) -> str:
    return room.__name__.rpartition(".")[2].replace("_", "-")


def _page(room: types.ModuleType, made: Mapping[str, dict[str, Any]]) -> str:
    first = (inspect.getdoc(room) or "").split("\n\n")[0]
    lines, told = [f"# {first.rstrip('.')}", "", "[The project's data](README.md)", ""], set[str]()
    for name in types_of(room):
        schema = made[name]
        own = schema["$ref"].rpartition("/")[2]
        lines += [f"## {name}", "", *_struct(schema["$defs"][own]), ""]
        for title in _reached(schema["$defs"], own):
            if title not in told:
                told.add(title)
                lines += [f"### {title}", "", *_struct(schema["$defs"][title]), ""]
    return "\n".join(lines).rstrip("\n") + "\n"


def _reached(definitions: dict[str, Any], own: str) -> list[str]:
    """What a document is made of, in the order in which a reader meets it."""
    found = [own]
    for title in found:
        text = json.dumps(definitions[title])
        parts = text.split('"#/$defs/')[1:]
        found += [name for part in parts if (name := part.split('"')[0]) not in found]
    return found[1:]


def _struct(definition: dict[str, Any]) -> Iterator[str]:
    yield _markdown(definition.get("description", ""))
    if "enum" in definition:
        yield ""
        yield "One of " + ", ".join(f"`{one}`" for one in definition["enum"]) + "."
        return
    yield ""
    yield "| field | holds | unit | what it says |"
    yield "|---|---|---|---|"
    needed = definition.get("required", ())
    for name, one in definition["properties"].items():
        left = "" if name in needed else " (may be left out)"
        unit = unit_of(name)
        words = _markdown(one.get("description", "")).removesuffix(f", {unit}")
        cells = (f"`{name}`", _holds(one) + left, unit, words)
        yield "| " + " | ".join(cell.replace("|", "\\|") for cell in cells) + " |"


def _markdown(words: str) -> str:
    return " ".join(words.replace("``", "`").split())


def _holds(one: dict[str, Any]) -> str:
    if "$ref" in one:
        title = one["$ref"].rpartition("/")[2]
        return f"[{title}](#{title.lower()})"
    if "anyOf" in one:
        return " or ".join(_holds(each) for each in one["anyOf"])
    if "const" in one:
        return f"`{json.dumps(one['const'])}`"
    if "enum" in one:
        return "one of " + ", ".join(f"`{json.dumps(word)}`" for word in one["enum"])
    return _KINDS.get(one.get("type", ""), _of_others)(one)


def _number(one: dict[str, Any]) -> str:
    kind = "whole number" if one["type"] == "integer" else "number"
    if "minimum" in one and "maximum" in one:
        return f"{kind} {one['minimum']:g} to {one['maximum']:g}"
    return kind


def _array(one: dict[str, Any]) -> str:
    if "prefixItems" in one:
        return "[" + ", ".join(_holds(each) for each in one["prefixItems"]) + "]"
    if one.get("minItems") == one.get("maxItems") == 2:
        return f"two of: {_holds(one['items'])}"
    return f"list of: {_holds(one['items'])}" if one.get("items") else "list"


def _object(one: dict[str, Any]) -> str:
    inner = one.get("additionalProperties")
    return f"by name: {_holds(inner)}" if isinstance(inner, dict) and inner else "table"


def _of_others(_one: dict[str, Any]) -> str:
    return "anything"


_KINDS: Final = {
    "string": lambda _one: "text",
    "integer": _number,
    "number": _number,
    "boolean": lambda _one: "`true` or `false`",
    "null": lambda _one: "`null`",
    "array": _array,
    "object": _object,
}
