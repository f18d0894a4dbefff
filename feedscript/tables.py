"""A small TOML file held against the schema of its keys, in words for people.

The schema is the one that msgspec makes of the keys' types. Every mistake is found, and each says
what is allowed in its place.
"""

from __future__ import annotations

import json
import math
import re
from collections.abc import Iterator
from typing import Any, TypeAlias

import msgspec

from feedscript.nearest import nearest

#: A key under its tables, such as ``("limits", "speed_mps")``; entries of a list count from 0.
KeyPath: TypeAlias = tuple[str, ...]


class Mistake(msgspec.Struct, frozen=True):
    """What is wrong in a file, where, and what mends it."""

    path: KeyPath
    message: str
    fix: str
    in_key: bool = False  # and not in its value


def held_against(schema: dict[str, Any], document: Any) -> list[Mistake]:
    """Every mistake of a document that a schema can name; none when it fits."""
    return list(_Holding(schema["$defs"]).value(document, schema, ()))


class _Holding(msgspec.Struct, frozen=True):
    """Walks a document beside the schema: the words of it that msgspec writes, and no others."""

    definitions: dict[str, Any]

    def value(self, value: Any, schema: dict[str, Any], path: KeyPath) -> Iterator[Mistake]:
        schema = self.resolved(schema)
        if "anyOf" in schema:
            yield from self.any_of(value, [self.resolved(one) for one in schema["anyOf"]], path)
        elif "enum" in schema:
            yield from _one_of(value, schema["enum"], path)
        elif not _is_of(value, schema["type"]):
            yield _wrong_kind(value, [schema], path)
        else:
            yield from getattr(self, schema["type"])(value, schema, path)

    def resolved(self, schema: dict[str, Any]) -> dict[str, Any]:
        reference = schema.get("$ref")
        if reference is None:
            return schema
        found: dict[str, Any] = self.definitions[reference.rpartition("/")[2]]
        return found

    def any_of(self, value: Any, choices: list[dict[str, Any]], path: KeyPath) -> Iterator[Mistake]:
        """The choices are of different kinds: the value's own says which is meant."""
        meant = [one for one in choices if _is_of(value, _kind(one))]
        if meant:
            yield from self.value(value, meant[0], path)
        else:
            yield _wrong_kind(value, choices, path)

    def object(self, table: Any, schema: dict[str, Any], path: KeyPath) -> Iterator[Mistake]:
        known = schema.get("properties", {})
        for name in schema.get("required", ()):
            if name not in table:
                yield _missing(name, self.resolved(known[name]), known[name], path)
        other = schema.get("additionalProperties", {})
        for name, value in table.items():
            if name in known:
                yield from self.value(value, known[name], (*path, name))
            elif other is False:
                yield _unknown(name, known, path)
            else:
                yield from self.named(name, value, schema, path)
        if len(table) < schema.get("minProperties", 0):
            yield Mistake(path, f"{_at(path)} is empty", f"describe at least one: {_like(schema)}")
        if len(table) > schema.get("maxProperties", math.inf):
            yield Mistake(path, f"{_at(path)} has {len(table)} entries", "leave some out")

    def named(
        self, name: str, value: Any, schema: dict[str, Any], path: KeyPath
    ) -> Iterator[Mistake]:
        """An entry under a name of the writer's."""
        names = schema.get("propertyNames", {})
        if name not in names.get("enum", (name,)):
            yield _unknown(name, names["enum"], path)
        elif not _fits(name, names):
            fix = "write small letters and underscores, at most 20"
            yield Mistake((*path, name), f"{name!r} is no name", fix)
        else:
            yield from self.value(value, schema["additionalProperties"], (*path, name))

    def array(self, values: Any, schema: dict[str, Any], path: KeyPath) -> Iterator[Mistake]:
        least, most = schema.get("minItems", 0), schema.get("maxItems", math.inf)
        if not least <= len(values) <= most:
            many = f"{least}" if least == most else f"{least} to {most}"
            yield Mistake(
                path, f"{_at(path)} has {len(values)} entries", f"write {many}: {_like(schema)}"
            )
            return
        each = schema.get("prefixItems") or [schema.get("items", {})] * len(values)
        for number, (value, one) in enumerate(zip(values, each, strict=True)):
            yield from self.value(value, one, (*path, str(number)))

    def string(self, text: str, schema: dict[str, Any], path: KeyPath) -> Iterator[Mistake]:
        least, most = schema.get("minLength", 0), schema.get("maxLength", math.inf)
        if not least <= len(text) <= most:
            message = f"{_at(path)} has {len(text)} characters"
            yield Mistake(path, message, f"write {least} to {most}: {_like(schema)}")
        elif not _fits(text, schema):
            message = f"{_at(path)} is {text!r}, which is not written as it must be"
            yield Mistake(path, message, _like(schema))

    def number(self, value: float, schema: dict[str, Any], path: KeyPath) -> Iterator[Mistake]:
        least, most = schema.get("minimum", -math.inf), schema.get("maximum", math.inf)
        above = schema.get("exclusiveMinimum", -math.inf)
        if not (least <= value <= most and value > above):
            lowest = f"above {above:g}" if above > -math.inf else f"from {least:g}"
            yield Mistake(path, f"{_at(path)} is {value:g}", f"write a number {lowest} to {most:g}")

    integer = number

    def boolean(self, _value: Any, _schema: dict[str, Any], _path: KeyPath) -> Iterator[Mistake]:
        return iter(())

    null = boolean


_KINDS = {
    "object": "a table",
    "array": "a list in square brackets",
    "string": "text in double quotes",
    "number": "a bare number",
    "integer": "a bare whole number",
    "boolean": "true or false",
}


def _kind(schema: dict[str, Any]) -> str:
    """What kind of value it asks for; one of several words is a text."""
    return str(schema.get("type", "string"))


def _is_of(value: Any, kind: str) -> bool:
    match kind:
        case "null":
            return value is None
        case "boolean":
            return isinstance(value, bool)
        case "integer":
            whole = isinstance(value, int) or (isinstance(value, float) and value.is_integer())
            return whole and not isinstance(value, bool)
        case "number":
            number = isinstance(value, int | float) and not isinstance(value, bool)
            return number and math.isfinite(value)
    return isinstance(value, {"object": dict, "array": list, "string": str}[kind])


def _fits(text: str, schema: dict[str, Any]) -> bool:
    pattern = schema.get("pattern")
    return pattern is None or bool(re.search(pattern.replace("$", r"\Z"), text))


def _at(path: KeyPath) -> str:
    return ".".join(path) or "the file"


def _like(schema: dict[str, Any]) -> str:
    """How it is written."""
    examples = schema.get("examples", ())
    shown = " or ".join(json.dumps(one, ensure_ascii=False) for one in examples)
    meaning: str = schema.get("description", "").rstrip(".")
    return meaning + (f", such as {shown}" if shown else "")


def _one_of(value: Any, allowed: list[Any], path: KeyPath) -> Iterator[Mistake]:
    if any(type(value) is type(one) and value == one for one in allowed):
        return
    near = nearest(value, [str(one) for one in allowed]) if isinstance(value, str) else None
    choices = "it is one of " + ", ".join(json.dumps(one) for one in allowed)
    fix = f"did you mean {json.dumps(near)}? {choices}" if near else choices
    yield Mistake(path, f"{_at(path)} is {_shown(value)}", fix)


def _wrong_kind(value: Any, choices: list[dict[str, Any]], path: KeyPath) -> Mistake:
    wanted = " or ".join(_KINDS[kind] for one in choices if (kind := _kind(one)) != "null")
    like = "; ".join(filter(None, map(_like, choices)))
    fix = f"write {wanted}" + (f": {like}" if like else "")
    return Mistake(path, f"{_at(path)} is {_shown(value)}, and {wanted} belongs there", fix)


def _shown(value: Any) -> str:
    text: str = repr(value)
    return text if len(text) <= 40 else text[:37] + "..."


def _missing(name: str, resolved: dict[str, Any], schema: dict[str, Any], path: KeyPath) -> Mistake:
    what = _like(schema) or _like(resolved)
    full = ".".join((*path, name))
    is_table = resolved.get("type") == "object"
    where = f"[{'.'.join(path)}]" if path else "the file"
    add = f"add `[{full}]`" if is_table else f"add `{name} = ...`"
    return Mistake(path, f"{where} does not say {name}: {what}", f"{add}; nothing is assumed")


def _unknown(name: str, known: Any, path: KeyPath) -> Mistake:
    near = nearest(name, known)
    where = f"[{'.'.join(path)}]" if path else "the top of the file"
    fix = (f"did you mean `{near}`? " if near else "") + f"its keys: {', '.join(known)}"
    return Mistake((*path, name), f"{where} has no key {name!r}", fix, in_key=True)
