"""Commands into frames and back, and the checks over them."""

from __future__ import annotations

import functools
import re

import pytest
from crccheck import crc as library
from feedscript_drivers.mapped.description.crc import CATALOGUE, check_of, crc
from feedscript_drivers.mapped.description.keys import Check, Mapping
from feedscript_drivers.mapped.description.read import read_mapping, read_text
from feedscript_drivers.mapped.frames import FrameReader, frame
from feedscript_drivers.mapped.numbers import numbers_of
from hypothesis import example, given, settings
from hypothesis import strategies as st

from feedscript.launcher.profile.read_profile import read_profile
from feedscript.launcher.setting import Setting
from feedscript.shipped import shipped_folder
from tests.drivers.mapped.mappings import FILES, text_of

_READING = read_profile(shipped_folder() / "launchers" / "garage.toml")
assert _READING.profile is not None
PROFILE = _READING.profile
SETTING = Setting(drives=(1200.0, 1000.0), pan_deg=3.0, tilt_deg=5.0)
STREAMS = ("byte-frames", "chatty-lines", "plain-words")


@functools.cache
def mapping_of(name: str, *changes: tuple[str, str]) -> Mapping:
    """A mapping of the project, some words of it replaced."""
    text = text_of(name)
    for old, new in changes:
        assert old in text
        text = text.replace(old, new)
    reading = read_text(text, name)
    assert reading.value is not None, reading.diagnostics
    return reading.value


#: The library's own name for each entry of the catalogue.
SAME = {name: name.title().replace("-", "") for name in CATALOGUE}


@pytest.mark.parametrize("name", CATALOGUE)
def test_a_check_gives_the_published_value(name: str) -> None:
    parameters = CATALOGUE[name]
    assert crc(parameters, b"123456789") == parameters.check


@settings(max_examples=15)
@given(data=st.binary(max_size=20))
@example(data=b"123456789")
def test_every_check_agrees_with_an_independent_library(data: bytes) -> None:
    for name, same in SAME.items():
        assert check_of(Check(kind=name), data) == getattr(library, same).calc(data), name


SUMS = {
    "sum8": lambda data: sum(data) & 0xFF,
    "sum16": lambda data: sum(data) & 0xFFFF,
    "negated-sum8": lambda data: (256 - sum(data)) & 0xFF,
    "inverted-sum8": lambda data: 255 - (sum(data) & 0xFF),
}


@settings(max_examples=20)
@given(data=st.binary(max_size=600))
def test_sums_and_exclusive_or(data: bytes) -> None:
    for kind, by_hand in SUMS.items():
        assert check_of(Check(kind=kind), data) == by_hand(data)
    bits = [sum(byte >> bit & 1 for byte in data) % 2 << bit for bit in range(8)]
    assert check_of(Check(kind="xor8"), data) == sum(bits)


@pytest.mark.parametrize("name", STREAMS)
@settings(max_examples=20)
@given(data=st.binary(max_size=300))
def test_random_bytes_from_a_device_never_raise(name: str, data: bytes) -> None:
    FrameReader(mapping_of(name)).feed(data)


@pytest.mark.parametrize("name", STREAMS)
@settings(max_examples=20)
@given(cut=st.integers(1, 60))
def test_frames_survive_any_cut(name: str, cut: int) -> None:
    mapping = mapping_of(name)
    data = frame(mapping, mapping.commands.set[0], numbers_of(mapping, SETTING, PROFILE)) * 2
    reader = FrameReader(mapping)
    assert len(reader.feed(data[:cut]) + reader.feed(data[cut:])) == 2


LENGTH = "[frame.length]\nat = 2\n"
CHECK = (
    "[frame.check]             # over what comes after start and length\n"
    'kind = "crc16-modbus"\nskip_first = 3\norder = "little"\n'
)
NO_CHECK = (CHECK, "")
#: How each way to end and to check a frame spells a feed (payload 20), by hand.
LAYOUTS = {
    "a length of what is after it": ([NO_CHECK], "5A A7 01 20"),
    "a length of the whole frame": (
        [NO_CHECK, ("at = 2", 'at = 2\ncounts = "frame"')],
        "5A A7 04 20",
    ),
    "a length of two bytes": (
        [NO_CHECK, ("at = 2", 'at = 2\nbytes = 2\norder = "little"')],
        "5A A7 01 00 20",
    ),
    "a length within the payload": ([NO_CHECK, ("at = 2", "at = 3")], "5A A7 20 00"),
    "a length without the check": (
        [
            ("at = 2", 'at = 2\ncounts = "payload"'),
            (CHECK, '[frame.check]\nkind = "xor8"\n'),
        ],
        "5A A7 01 20 DC",
    ),
    "a check over everything": (
        [(CHECK, '[frame.check]\nkind = "sum8"\n')],
        "5A A7 02 20 23",
    ),
    "a check that leaves its last byte out": (
        [(CHECK, '[frame.check]\nkind = "sum8"\nskip_first = 1\nskip_last = 1\n')],
        "5A A7 02 20 A9",
    ),
    "a fixed size, filled up": (
        [(LENGTH, ""), ('start = "5A A7"', 'start = "5A A7"\nsize = 13\npad = "EE"'), NO_CHECK],
        "5A A7 20" + " EE" * 10,
    ),
    "an end": (
        [
            (LENGTH, '[frame.escape]\nbyte = "7D"\nof = "7E"\nxor = "20"\n'),
            ('start = "5A A7"', 'start = "7E"\nend = "7E"'),
            (CHECK, '[frame.check]\nkind = "inverted-sum8"\nskip_first = 1\n'),
        ],
        "7E 20 DF 7E",
    ),
}


@pytest.mark.parametrize(("changes", "wire"), LAYOUTS.values(), ids=LAYOUTS)
def test_a_layout_is_spelled_as_it_was_worked_out_by_hand(
    changes: list[tuple[str, str]], wire: str
) -> None:
    mapping = mapping_of("byte-frames", *changes)
    assert frame(mapping, "20", {}) == bytes.fromhex(wire)
    reader = FrameReader(mapping)
    padding = wire.count("EE") * "EE"
    assert reader.feed(b"\x00" + bytes.fromhex(wire) * 2) == ["20" + padding] * 2


@pytest.mark.parametrize(("changes", "wire"), LAYOUTS.values(), ids=LAYOUTS)
@settings(max_examples=20)
@given(payload=st.binary(min_size=11, max_size=11), cut=st.integers(0, 40))
def test_any_payload_comes_back_however_it_is_cut(
    changes: list[tuple[str, str]], wire: str, payload: bytes, cut: int
) -> None:
    del wire
    mapping = mapping_of("byte-frames", *changes)
    sent = frame(mapping, payload.hex(" "), {})
    reader = FrameReader(mapping)
    heard = reader.feed(sent[:cut]) + reader.feed(sent[cut:]) + reader.feed(sent)
    assert heard == [payload.hex().upper()] * 2


CHECKED = [name for name in LAYOUTS if "check" in name and "without" not in name] + ["an end"]


@pytest.mark.parametrize("name", CHECKED)
def test_a_spoilt_byte_is_never_taken(name: str) -> None:
    changes, wire = LAYOUTS[name]
    mapping, whole = mapping_of("byte-frames", *changes), bytes.fromhex(wire)
    covered = mapping.frame.check
    assert covered is not None
    for place in range(len(bytes.fromhex(mapping.frame.start)), len(whole)):
        spoilt = bytearray(whole)
        spoilt[place] ^= 0x01
        assert FrameReader(mapping).feed(bytes(spoilt)) in ([], ["21"][: covered.skip_last])


def test_lines_spell_numbers_and_checks_as_they_are_told() -> None:
    decimal = ('separator = "|"', 'separator = "*"\nspelled = "decimal"\nskip_first = 1')
    mapping = mapping_of("chatty-lines", decimal)
    line = frame(mapping, "THROW", {})
    assert line == b"THROW*%03d\r\n" % (sum(b"HROW") % 256)
    assert FrameReader(mapping).feed(line) == ["THROW"]
    pan = (
        "scale = 10.0              # tenths of a degree, 500 straight ahead\noffset = 500.0",
        "decimals = 2\nscale = 1.0\noffset = 500.0",
    )
    mapping = mapping_of("chatty-lines", pan)
    look = frame(mapping, "LOOK {pan_deg}", {"pan_deg": 503.5})
    assert re.match(rb"LOOK 503\.50\|", look)


def test_floats_are_binary32_in_either_order() -> None:
    """3.0 is 40 40 00 00 (IEEE 754-2019, binary32: sign 0, exponent 128, fraction 0.5)."""
    little = ("scale = 100.0\nleast = -2200", 'spelled = "float32"\nleast = -2200')
    mapping = mapping_of("byte-frames", little)
    whole = frame(mapping, "{pan_deg}", {"pan_deg": 3.0})
    assert whole[3:7] == bytes.fromhex("40400000")


def test_the_shipped_files_are_the_ones_that_are_tried() -> None:
    assert set(STREAMS) <= set(FILES)
    assert read_mapping(FILES["plain-words"]).device.name
