"""JSON Schema (2020-12) of every document, made from its type.

msgspec makes most of it. What is added: the document's head, the words behind each field in the
source, a profile's ranges as TOML has them, and that there is no other field. A document of another
number of the format has another schema.
"""

from __future__ import annotations

import types
import typing
from collections.abc import Iterator, Mapping
from typing import Any, Final

import msgspec

from feedscript.documents import (
    after,
    club_web,
    clubs,
    common,
    devices,
    files,
    proving,
    review,
    setting_up,
    writing,
)
from feedscript.documents.field_words import said_of
from feedscript.formats import FORMATS
from feedscript.launcher.profile.drives import Range

DIALECT: Final = "https://json-schema.org/draft/2020-12/schema"
#: What a schema is called: a name that nobody fetches (RFC 4151), with an invented authority.
_ID: Final = "tag:feedscript.example,2026:schema/{name}/{number}"

#: The rooms of documents, in the order of their page.
ROOMS: Final = (
    files,
    devices,
    writing,
    proving,
    setting_up,
    after,
    review,
    clubs,
    club_web,
    common,
)
#: Every document that begins with its name, and its type.
NAMED: Final[Mapping[str, type[Any]]] = {
    name: kind for room in ROOMS for name, kind in room.DOCUMENTS.items()
}


def types_of(room: types.ModuleType) -> dict[str, type[Any]]:
    """The documents of a room by name."""
    numbered = {name: one.kind for name, one in getattr(room, "NUMBERED", {}).items()}
    return numbered | dict(getattr(room, "PLAIN", {})) | dict(room.DOCUMENTS)


def schemas() -> dict[str, dict[str, Any]]:
    """The schema of every document by its name."""
    return {name: _schema(name, kind) for room in ROOMS for name, kind in types_of(room).items()}


def _schema(name: str, kind: type[Any]) -> dict[str, Any]:
    made = msgspec.json.schema(kind)
    definitions, known = made["$defs"], structs_in(kind)
    for title, definition in definitions.items():
        if title in known:
            _tell(definition, known[title], definitions)
    numbered = files.NUMBERED.get(name)
    own = definitions[made["$ref"].rpartition("/")[2]]
    number = FORMATS.get(name, 1)
    if numbered is not None:
        number = numbered.number
        _head(own, {numbered.key: ({"const": number}, "the number of the format")})
    heads = {kind: name for name, kind in NAMED.items()}
    for title, struct in known.items():
        if struct in heads and title in definitions:
            _head(definitions[title], _named(heads[struct]))
    made = _in_ecma(made)
    head = {"$schema": DIALECT, "$id": _ID.format(name=name, number=number), "title": name}
    return {**head, **made}


#: What a pattern of Python is in ECMA-262, which is JSON Schema's: the ends of a text, and letters
#: of every language.
_ECMA: Final = {r"\A": "^", r"\Z": "$", r"[^\W_]": r"[\p{L}\p{N}]", r"\w": r"\p{L}\p{N}_"}


def _in_ecma(made: Any) -> Any:
    """The same with every pattern as JSON Schema has them."""
    if isinstance(made, list):
        return [_in_ecma(one) for one in made]
    if not isinstance(made, dict):
        return made
    return {key: _pattern(one) if key == "pattern" else _in_ecma(one) for key, one in made.items()}


def _pattern(found: Any) -> Any:
    if not isinstance(found, str):  # a field of that name
        return _in_ecma(found)
    for python, ecma in _ECMA.items():
        found = found.replace(python, ecma)
    return found


def _named(name: str) -> dict[str, tuple[dict[str, Any], str]]:
    return {
        "document": ({"const": name}, "what this is"),
        "format": ({"const": FORMATS[name]}, "the number of its format"),
    }


def _head(definition: dict[str, Any], head: Mapping[str, tuple[dict[str, Any], str]]) -> None:
    """What a document begins with."""
    first = {key: {**holds, "description": says} for key, (holds, says) in head.items()}
    definition["properties"] = {**first, **_without(definition.get("properties", {}), first)}
    needed = [key for key in definition.get("required", ()) if key not in first]
    definition["required"] = [*first, *needed]


def _without(properties: dict[str, Any], first: Mapping[str, Any]) -> dict[str, Any]:
    return {key: one for key, one in properties.items() if key not in first}


def _tell(
    definition: dict[str, Any], struct: type[msgspec.Struct], definitions: Mapping[str, Any]
) -> None:
    """The words of each field; nothing beside them."""
    definition["additionalProperties"] = False
    properties = definition.get("properties", {})
    hints = typing.get_type_hints(struct, include_extras=True)
    tag = struct.__struct_config__.tag_field
    if tag in properties:
        properties[tag] = _with_words(properties[tag], "which kind it is")
    for field in msgspec.structs.fields(struct):
        one = properties[field.encode_name]
        ranged = _ranged(hints[field.name])
        if ranged is not None:
            properties[field.encode_name] = ranged
        elif "description" not in one:
            words = _inner(one) or said_of(struct, field.name) or _of_table(one, definitions)
            properties[field.encode_name] = _with_words(one, words)


def _inner(one: dict[str, Any]) -> str:
    """The words at the one kind of value that a key may have, where it may also be left out."""
    return next((str(each["description"]) for each in _choices(one) if "description" in each), "")


def _of_table(one: dict[str, Any], definitions: Mapping[str, Any]) -> str:
    """What the table says of itself that a key holds."""
    held = [each.get("items", each) for each in _choices(one)]
    named = (each["$ref"].rpartition("/")[2] for each in held if "$ref" in each)
    return next((str(definitions[each].get("description", "")) for each in named), "")


def _choices(one: dict[str, Any]) -> list[dict[str, Any]]:
    found: list[dict[str, Any]] = one.get("anyOf", [one])
    return found


def _with_words(one: dict[str, Any], words: str) -> dict[str, Any]:
    return {**one, "description": words} if words else one


def _ranged(hint: Any) -> dict[str, Any] | None:
    """A profile's range, or its list of steps, with the bounds of every number in it."""
    if typing.get_origin(hint) is not typing.Annotated:
        return None
    inner, meta, *_ = typing.get_args(hint)
    bounds = meta.extra or {}
    if "ge" not in bounds:
        return None
    each = {"type": "number", "minimum": bounds["ge"], "maximum": bounds["le"]}
    size = {"minItems": 2, "maxItems": 2} if inner is Range else {}
    return {"type": "array", "items": each, **size, "description": meta.description}


def structs_in(kind: Any) -> dict[str, type[msgspec.Struct]]:
    """Every struct in a type, by the name that msgspec gives it in a schema."""
    return {one.__name__: one for one in dict.fromkeys(_inside(kind, set()))}


def _inside(kind: Any, seen: set[Any]) -> Iterator[type[msgspec.Struct]]:
    if isinstance(kind, type) and issubclass(kind, msgspec.Struct):
        if kind in seen:
            return
        seen.add(kind)
        yield kind
        for hint in typing.get_type_hints(kind).values():
            yield from _inside(hint, seen)
    for inner in typing.get_args(kind):
        yield from _inside(inner, seen)
