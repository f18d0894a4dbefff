"""The page of every key, made from the keys themselves.

``python -m feedscript_drivers.mapped.description.reference FILE`` writes it.
"""

from __future__ import annotations

import json
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from feedscript_drivers.mapped.description.crc import CATALOGUE
from feedscript_drivers.mapped.description.keys import QUANTITIES
from feedscript_drivers.mapped.description.schema import schema

#: The tables in reading order: how each is written, and the type that holds it.
_TABLES = (
    ("top of the file", "Mapping"),
    ("[device]", "Device"),
    ("[frame]", "Frame"),
    ("[frame.length]", "Length"),
    ("[frame.check]", "Check"),
    ("[frame.check.crc]", "OwnCrc"),
    ("[frame.escape]", "Escape"),
    ("[gatt]", "Gatt"),
    ("[gatt.characteristics.NAME]", "Characteristic"),
    ("[quantities.NAME]", "Quantity"),
    ("[ids]", "Ids"),
    ("[[start]]", "Step"),
    ("[commands]", "Commands"),
    ("[replies]", "Replies"),
    ("[replies.done], [replies.refused]", "ByCommand"),
)

_INTRO = """# Every key of a mapping

A mapping is a TOML file that says how a device speaks which does not speak the project's own
protocol. This page has every key; `feedscript mapped check FILE` finds every mistake in a file and
says what is allowed, and `feedscript schema mapping` prints the same keys as JSON Schema (2020-12)
for an editor. How such a device is driven, and what it cannot promise, is in the
[chapter on drivers](README.md#mapped-devices); whole examples, all of them invented, are in
[programs/launchers/mapped](../programs/launchers/mapped).

A key without a default must be there. What is not known is refused; nothing is guessed.

This page is made from the program (`python -m feedscript_drivers.mapped.description.reference
drivers/mapped.md`).
"""


def page() -> str:
    """The whole page, in Markdown."""
    made = schema()["$defs"]
    parts = [_INTRO]
    for written, name in _TABLES:
        parts.append("\n".join(_table(written, made[name], made)) + "\n")
    return "\n".join([*parts, _quantities(), _checks()])


def _table(written: str, struct: dict[str, Any], made: dict[str, Any]) -> Iterator[str]:
    tables = " and ".join(f"`{one}`" for one in written.split(", "))
    yield f"## {tables}" if written.startswith("[") else f"## The {written}"
    yield ""
    yield _plain(struct["description"])
    yield ""
    yield "| key | holds | without it | what it says | for example |"
    yield "|---|---|---|---|---|"
    needed = struct.get("required", ())
    for key, one in struct["properties"].items():
        without = "must be there" if key in needed else _default(one)
        says, example = _said(one, made)
        cells = (f"`{key}`", _holds(one), without, says, example)
        yield "| " + " | ".join(cell.replace("|", "\\|") for cell in cells) + " |"


def _choices(one: dict[str, Any]) -> list[dict[str, Any]]:
    return [each for each in one.get("anyOf", [one]) if each.get("type") != "null"]


def _said(one: dict[str, Any], made: dict[str, Any]) -> tuple[str, str]:
    """What a key means, and an example."""
    inner = [one, *_choices(one)]
    inner += [made[each["$ref"].rpartition("/")[2]] for each in _choices(one) if "$ref" in each]
    says = next((each["description"] for each in inner if "description" in each), "")
    examples = next((each["examples"] for each in inner if "examples" in each), ())
    return _plain(says), ", ".join(f"`{_toml(each)}`" for each in examples)


def _plain(words: str) -> str:
    return " ".join(words.replace("``", "`").split())


def _default(one: dict[str, Any]) -> str:
    value = one.get("default")
    if value is None or value in ("", [], (), {}, "(?!)"):
        return "none"
    return f"`{_toml(value)}`"


def _holds(one: dict[str, Any]) -> str:
    """What may be written, in words."""
    found = []
    for each in _choices(one):
        if "$ref" in each:
            found.append("a table of its own")
        elif "enum" in each:
            found.append("one of " + ", ".join(f"`{_toml(word)}`" for word in each["enum"]))
        else:
            found.append(_kind(each))
    return " or ".join(found)


def _kind(one: dict[str, Any]) -> str:
    match one["type"]:
        case "string":
            most = f" of at most {one['maxLength']} characters" if "maxLength" in one else ""
            return f"text{most}"
        case "integer" | "number":
            return ("whole number" if one["type"] == "integer" else "number") + _range(one)
        case "boolean":
            return "`true` or `false`"
        case "array":
            return "list"
        case "object" if one["additionalProperties"].get("type") == "string":
            return "text by name: " + ", ".join(
                f"`{name}`" for name in one["propertyNames"]["enum"]
            )
    return "tables by name"


def _range(one: dict[str, Any]) -> str:
    if "exclusiveMinimum" in one:
        return f" above {one['exclusiveMinimum']:g}, to {one['maximum']:g}"
    if "minimum" not in one:
        return ""
    return f" {one['minimum']} to {one['maximum']}" if "maximum" in one else ""


def _toml(value: Any) -> str:
    """As TOML has it; a list of texts and numbers is written as in JSON."""
    if isinstance(value, dict):
        inside = ", ".join(f"{key} = {_toml(each)}" for key, each in value.items())
        return f"{{ {inside} }}"
    return json.dumps(value, ensure_ascii=False)


def _quantities() -> str:
    lines = ["## Quantities", "", "What `[quantities.NAME]` may be called, and what each value is."]
    lines += ["", "| name | value |", "|---|---|"]
    lines += [f"| `{name}` | {meaning} |" for name, meaning in QUANTITIES.items()]
    return "\n".join(lines) + "\n"


def _checks() -> str:
    lines = [
        "## CRCs by name",
        "",
        "Parameters and check values (of the ASCII characters `123456789`) from Greg Cook,",
        '"Catalogue of parametrised CRC algorithms". Any other: `own-crc`.',
        "",
        "Of frames that were spoilt at random in many places, a check of eight bits lets about one",
        "in 256 pass, one of sixteen bits one in 65,536: where a device offers both, the longer.",
        "",
        "| kind | polynomial | init | refin, refout | xorout | check |",
        "|---|---|---|---|---|---|",
    ]
    for name, one in CATALOGUE.items():
        digits = one.width // 4
        numbers = [f"`0x{value:0{digits}X}`" for value in (one.poly, one.init)]
        last = [f"`0x{value:0{digits}X}`" for value in (one.xorout, one.check)]
        reflected = "yes" if one.reflected else "no"
        lines.append("| " + " | ".join([f"`{name}`", *numbers, reflected, *last]) + " |")
    return "\n".join(lines) + "\n"


if __name__ == "__main__":
    Path(sys.argv[1]).write_text(page(), encoding="utf-8")
