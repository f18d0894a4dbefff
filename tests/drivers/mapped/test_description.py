"""The file that describes a device: its keys stand once, and everything about them agrees."""

from __future__ import annotations

import tomllib
from pathlib import Path
from typing import Any

import jsonschema_rs
import msgspec
import pytest
from feedscript_drivers.mapped.description import reference
from feedscript_drivers.mapped.description import schema as schemas
from feedscript_drivers.mapped.description.keys import Mapping
from feedscript_drivers.mapped.description.read import read_mapping, read_text
from hypothesis import given, settings
from hypothesis import strategies as st

from feedscript.documents.shipped import schema
from feedscript.launcher.port import LauncherError
from feedscript.tables import held_against
from tests.drivers.mapped.mappings import MAPPINGS, ROOT, text_of

VALID = jsonschema_rs.Draft202012Validator(schema("mapping"))


def test_the_page_of_keys_is_what_the_program_makes() -> None:
    """After a change: its module, run with drivers/mapped.md."""
    assert (ROOT / "drivers/mapped.md").read_text("utf-8") == reference.page()


def test_every_key_says_what_it_means_and_looks_like() -> None:
    """Tables say it of themselves; a key that holds one needs no words of its own."""
    silent = []
    for name, struct in schemas.schema()["$defs"].items():
        assert struct["description"], name
        for key, one in struct["properties"].items():
            choices = one.get("anyOf", [one])
            holds_table = any("$ref" in each for each in choices) or "$ref" in one
            says = [each for each in (one, *choices) if "description" in each]
            shows = [each for each in (one, *choices) if "examples" in each]
            by_name = one.get("type") == "object" or "items" in one
            if not holds_table and not (says and (shows or by_name)) and key != "start":
                silent.append(f"{name}.{key}")
    assert silent == []


@pytest.mark.parametrize("name", MAPPINGS)
def test_every_mapping_of_the_project_fits(name: str) -> None:
    text = text_of(name)
    assert list(VALID.iter_errors(tomllib.loads(text))) == []
    assert read_text(text, name).diagnostics == ()


# The reader and the schema, held against each other on documents near to good ones.

DOCUMENTS = [tomllib.loads(text_of(name)) for name in MAPPINGS]
anything = st.recursive(
    st.one_of(
        st.none(),
        st.booleans(),
        st.integers(-(2**40), 2**40),
        st.floats(allow_nan=False, allow_infinity=False),
        st.sampled_from(["", "lines", "bytes", "5A A7", "5g", "little", "x" * 300, "10 {drive_1}"]),
        st.text(max_size=4),
    ),
    lambda inside: st.one_of(
        st.lists(inside, max_size=3), st.dictionaries(st.text(max_size=5), inside, max_size=3)
    ),
    max_leaves=4,
)


def places(document: Any, path: tuple[Any, ...] = ()) -> list[tuple[Any, ...]]:
    """Every key and entry of a document."""
    if isinstance(document, dict):
        inner = list(document.items())
    elif isinstance(document, list):
        inner = list(enumerate(document))
    else:
        return [path]
    return [path, *(place for key, one in inner for place in places(one, (*path, key)))]


def changed(document: Any, path: tuple[Any, ...], change: Any) -> Any:
    """A copy of a document with ``change`` applied at a place."""
    if not path:
        return change(document)
    copy = dict(document) if isinstance(document, dict) else list(document)
    copy[path[0]] = changed(copy[path[0]], path[1:], change)
    return copy


def without(key: Any) -> Any:
    def change(table: Any) -> Any:
        if not isinstance(table, dict) or not table:
            return table
        return {name: one for name, one in table.items() if name != sorted(table)[key % len(table)]}

    return change


def with_key(name: str, value: Any) -> Any:
    return lambda table: {**table, name: value} if isinstance(table, dict) else value


@st.composite
def near_mappings(draw: st.DrawFn) -> Any:
    """A mapping of the project, with up to three keys changed, added or left out."""
    document = draw(st.sampled_from(DOCUMENTS))
    for _ in range(draw(st.integers(0, 3))):
        path = draw(st.sampled_from(places(document)))
        change = draw(
            st.one_of(
                anything.map(lambda value: lambda _old: value),
                st.integers(0, 20).map(without),
                st.builds(with_key, st.sampled_from(["baud", "bauds", "least", "check"]), anything),
            )
        )
        document = changed(document, path, change)
    return document


@settings(max_examples=60)
@given(near_mappings())
def test_reader_and_schema_agree(document: Any) -> None:
    """The validator is somebody else's; and what fits is a mapping to msgspec, too."""
    agree_about(document)


@pytest.mark.long
@settings(max_examples=5000)
@given(near_mappings())
def test_reader_and_schema_agree_on_many(document: Any) -> None:
    agree_about(document)


def agree_about(document: Any) -> None:
    found = held_against(schemas.schema(), document)
    assert (not found) == VALID.is_valid(document), found
    if not found:
        msgspec.json.decode(msgspec.json.encode(document), type=Mapping)


# What is wrong is said with what is allowed.

BYTES = text_of("byte-frames")
LINES = text_of("chatty-lines")
WRONG = {
    "no watchdog and no reason": (BYTES, "accepts_no_watchdog = ", "# ", "accepts_no_watchdog why"),
    "an unknown key": (BYTES, "baud = 115200", "bauds = 115200", "did you mean `baud`?"),
    "a word that is not allowed": (BYTES, '"crc16-modbus"', '"crc16-modbuss"', "crc16-xmodem"),
    "a word near to one": (
        BYTES,
        '"crc16-modbus"',
        '"CRC16_MODBUS"',
        'did you mean "crc16-modbus"',
    ),
    "a number out of bounds": (BYTES, "baud = 115200", "baud = 20", "300 to 4e+06"),
    "text for a number": (BYTES, "baud = 115200", 'baud = "fast"', "a bare whole number"),
    "a quantity that is not described": (BYTES, "{tilt_deg}", "{tilt_dag}", "{tilt_deg}"),
    "a quantity that there is not": (
        BYTES,
        "quantities.tilt_deg",
        "quantities.tilt_rad",
        "tilt_deg",
    ),
    "bytes that are none": (BYTES, 'feed = "20"', 'feed = "2G"', "pairs of digits"),
    "a broken pattern": (BYTES, 'set = "8010"', 'set = "80(10"', "regular expression"),
    "a stop that is not answered": (BYTES, 'stop = "8030"', 'stop = ""', "must be answered"),
    "no stop and no reason": (LINES, 'stop = "REST"\n', "", "accepts_no_stop"),
    "an emergency stop left out": (LINES, 'emergency = "CUT"\n', "", "give both"),
    "no ball told and no reason": (LINES, 'ball = "GONE [0-9]+"\n', "", "accepts_no_ball_told"),
    "a reason for what is not so": (
        LINES,
        "watchdog_s = 1.0",
        'watchdog_s = 1.0\naccepts_no_stop = "it has one"',
        "leave it out",
    ),
    "two ends of a frame": (
        BYTES,
        'kind = "bytes"',
        'kind = "bytes"\nsize = 12',
        "how a frame ends",
    ),
    "a length inside the start": (BYTES, "at = 2", "at = 1", "2 is the first place"),
    "a key of byte frames in lines": (LINES, 'kind = "lines"', 'kind = "lines"\nsize = 9', "leave"),
    "a CRC that does not give its check": (
        BYTES,
        'kind = "crc16-modbus"',
        'kind = "own-crc"\ncrc = { width = 8, poly = 7, init = 0, reflected = false, xorout = 0, '
        "check = 245 }",
        "look it up again",
    ),
    "a poll that nobody answers": (LINES, 'alive = "HERE"', 'alive = "HERE"\npoll = "?"', "done"),
    "a group that means nothing": (LINES, '"GONE [0-9]+"', '"GONE (?P<n>[0-9]+)"', "id, count"),
    "a range that does not fit": (
        BYTES,
        "most = 2200\nbytes = 2",
        "most = 2200\nbytes = 1",
        "bytes",
    ),
    "packets on a cable": (LINES, 'kind = "lines"', 'kind = "packets"', "[gatt]"),
    "no TOML": (BYTES, "[device]", "[device", "tables as `[name]`"),
}


@pytest.mark.parametrize(("text", "old", "new", "mend"), WRONG.values(), ids=WRONG)
def test_a_mapping_that_says_too_little_or_too_much_is_refused(
    text: str, old: str, new: str, mend: str, tmp_path: Path
) -> None:
    assert old in text
    file = tmp_path / "device.toml"
    file.write_text(text.replace(old, new), encoding="utf-8")
    with pytest.raises(LauncherError) as caught:
        read_mapping(file)
    assert caught.value.diagnostic.slug == "mapping-file"
    said = read_text(text.replace(old, new), "device.toml").diagnostics
    assert any(mend in one.help + one.message for one in said), [one.help for one in said]
    assert all(one.span is not None for one in said)


def test_every_mistake_is_found_at_its_place() -> None:
    text = BYTES.replace("baud = 115200", "bauds = 115200").replace('feed = "20"', "feed = 20")
    first, second = read_text(text, "device.toml").diagnostics
    lines = text.split("\n")
    assert first.span is not None
    assert second.span is not None
    assert "bauds" in lines[first.span.line - 1]
    assert "feed = 20" in lines[second.span.line - 1]


def test_a_file_that_is_not_there_is_a_diagnostic(tmp_path: Path) -> None:
    with pytest.raises(LauncherError, match="cannot be read"):
        read_mapping(tmp_path / "nothing.toml")
