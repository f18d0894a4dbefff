"""Lines against the vectors that firmware runs too, and against anything a wire may bring."""

from __future__ import annotations

import hashlib
import json
from pathlib import Path
from typing import Any

import pytest
from crccheck.crc import Crc16Ibm3740
from feedscript_drivers.wire import protocol
from feedscript_drivers.wire.codec import (
    Keyed,
    LineReader,
    Plain,
    Refused,
    crc16,
    plain_line,
    read_line,
)
from feedscript_drivers.wire.messages import (
    NAME,
    BadCommand,
    Beat,
    Command,
    EventLine,
    Heartbeat,
    Reply,
    read_host_body,
    read_launcher_body,
)
from feedscript_drivers.wire.protocol import StopCharacter, spelled
from feedscript_drivers.wire.seal import Direction, KeyedSeal, tag_of
from hypothesis import given
from hypothesis import strategies as st

SHARED = Path(__file__).resolve().parents[3] / "shared"


def vectors(name: str) -> Any:
    return json.loads((SHARED / "vectors" / f"{name}.json").read_text(encoding="utf-8"))


def test_crc_has_the_published_check_value() -> None:
    # Catalogue of parametrised CRC algorithms (G. Cook), CRC-16/IBM-3740.
    assert crc16(b"123456789") == 0x29B1


@given(st.binary(max_size=120))
def test_crc_agrees_with_an_independent_library(data: bytes) -> None:
    assert crc16(data) == Crc16Ibm3740.calc(data)


@pytest.mark.parametrize("vector", vectors("crc")["vectors"], ids=lambda v: v["text"][:20])
def test_crc_vectors(vector: dict[str, str]) -> None:
    assert f"{crc16(vector['text'].encode()):04X}" == vector["crc"]


@pytest.mark.parametrize("vector", vectors("lines")["good"], ids=lambda v: v["body"][:24])
def test_good_lines_are_read_and_written(vector: dict[str, str]) -> None:
    raw = vector["line"].encode("ascii")
    assert read_line(raw) == Plain(vector["body"])
    assert read_line(raw + b"\r") == Plain(vector["body"])
    assert plain_line(vector["body"]) == raw + b"\n"


@pytest.mark.parametrize("vector", vectors("lines")["bad"], ids=lambda v: v["why"])
def test_bad_lines_are_refused(vector: dict[str, str]) -> None:
    assert isinstance(read_line(vector["line"].encode("latin-1")), Refused)


@pytest.mark.parametrize("vector", vectors("lines")["malformed"], ids=lambda v: v["why"])
def test_malformed_bodies_are_never_commands(vector: dict[str, str]) -> None:
    line = read_line(vector["line"].encode("ascii"))
    assert isinstance(line, Plain)
    assert not isinstance(read_host_body(line.body), Command | Heartbeat)


@pytest.mark.parametrize("vector", vectors("keyed")["rfc7693"], ids=lambda v: v["about"][:30])
def test_the_hash_behind_the_tags(vector: dict[str, Any]) -> None:
    digest = hashlib.blake2s(
        bytes.fromhex(vector["message_hex"]),
        key=bytes.fromhex(vector["key"]),
        digest_size=vector["digest_bytes"],
    )
    assert digest.hexdigest() == vector["digest"]


@pytest.mark.parametrize("vector", vectors("keyed")["lines"], ids=lambda v: v["body"][:24])
def test_keyed_lines_carry_the_stated_tag(vector: dict[str, Any]) -> None:
    line = read_line(vector["line"].encode("ascii"))
    assert isinstance(line, Keyed)
    assert (line.body, line.counter) == (vector["body"], vector["counter"])
    assert line.tag == tag_of(
        bytes.fromhex(vector["key"]),
        Direction(vector["direction"]),
        vector["boot"],
        vector["nonce"],
        vector["counter"],
        vector["body"],
    )


def test_tables_are_those_of_the_shared_protocol() -> None:
    shared = json.loads((SHARED / "protocol.json").read_text(encoding="utf-8"))
    assert shared["version"] == protocol.VERSION
    assert shared["most"] == {"body": protocol.MOST_BODY, "line": protocol.MOST_LINE}
    assert shared["commands"] == protocol.COMMANDS
    assert set(shared["without_session"]) == protocol.WITHOUT_SESSION
    assert set(shared["without_key"]) == protocol.WITHOUT_KEY
    assert shared["states"] == {str(n): s.value for n, s in enumerate(protocol.STATES)}
    assert shared["stop_characters"] == {c.name.lower(): c.value for c in StopCharacter}
    for name, kind in (
        ("errors", protocol.Code),
        ("reasons", protocol.Reason),
        ("faults", protocol.FaultKind),
    ):
        assert shared[name] == {str(m.value): spelled(m) for m in kind}
    assert shared["numbers"] == {str(n.value): n.name.lower() for n in protocol.Number}
    assert shared["capabilities"] == {str(c.value): spelled(c) for c in protocol.Capability}
    assert shared["outcomes"] == {letter.value: spelled(letter) for letter in protocol.FeedLetter}
    times = {name.lower(): v for name, v in vars(protocol.Times).items() if name.isupper()}
    assert shared["times_ms"] == times
    ahead = {"sequence": protocol.SEQUENCE_AHEAD, "counter": protocol.COUNTER_AHEAD}
    assert shared["ahead"] == ahead
    assert shared["keeps"] == {
        "feeds": protocol.KEEPS_FEEDS,
        "events": protocol.KEEPS_EVENTS,
        "faults": protocol.KEEPS_FAULTS,
    }
    assert shared["unset"] == protocol.UNSET


def test_the_text_names_every_command_and_number() -> None:
    text = (SHARED / "protocol.md").read_text(encoding="utf-8")
    for word in protocol.COMMANDS:
        assert f"`{word}" in text
    for number in (protocol.Times.SILENCE, protocol.Times.WATCHDOG, protocol.Times.JAM):
        assert f"| {int(number)} |" in text or f"({int(number)} ms)" in text


# What a wire may bring


@given(st.binary(max_size=400), st.booleans())
def test_random_bytes_never_raise(data: bytes, far_end: bool) -> None:
    for item in LineReader(stop_characters=far_end).feed(data):
        if isinstance(item, Plain):
            read_host_body(item.body)
            read_launcher_body(item.body)


@given(st.text(alphabet=st.characters(min_codepoint=32, max_codepoint=126), max_size=88))
def test_random_bodies_never_raise(body: str) -> None:
    read_host_body(body)
    read_launcher_body(body)


arguments = {
    kind: st.integers(least, most) for kind, (least, most) in protocol.ARGUMENT_RANGES.items()
} | {
    "h": st.binary(min_size=32, max_size=32).map(bytes.hex),
    "n": st.from_regex(NAME, fullmatch=True),
}


@st.composite
def commands(draw: st.DrawFn) -> Command:
    word = draw(st.sampled_from(sorted(protocol.COMMANDS)))
    shape = protocol.COMMANDS[word].replace("?", "")
    values = tuple(draw(arguments[kind]) for kind in shape)
    return Command(draw(st.integers(0, 65535)), word, values)


@given(commands())
def test_every_command_comes_back_as_it_was(command: Command) -> None:
    (line,) = LineReader(stop_characters=True).feed(plain_line(command.body()))
    assert isinstance(line, Plain)
    assert read_host_body(line.body) == command


word16, word32 = st.integers(0, 65535), st.integers(0, 2**32 - 1)
launcher_messages = st.one_of(
    st.builds(Beat, word16, word32, word16, word16, word32),
    st.builds(
        EventLine,
        word16,
        word32,
        st.sampled_from(["LEFT", "MISS", "STATE", "FAULT"]),
        st.tuples(word32, word16),
    ),
    st.builds(Reply, word16, st.none() | word16, st.tuples(word32.map(str), word16.map(str))),
)


@given(launcher_messages)
def test_every_answer_comes_back_as_it_was(message: Beat | EventLine | Reply) -> None:
    (line,) = LineReader().feed(plain_line(message.body()))
    assert isinstance(line, Plain)
    assert read_launcher_body(line.body) == message


@given(st.lists(commands(), min_size=1, max_size=5), st.data())
def test_cuts_and_stop_characters_never_change_lines(sent: list[Command], data: st.DataObject):
    """However a stream is cut, and wherever stop characters fall, the same lines come out."""
    stream = bytearray(b"".join(plain_line(command.body()) for command in sent))
    stops = data.draw(st.lists(st.sampled_from(list(StopCharacter)), max_size=4))
    for stop in stops:
        stream.insert(data.draw(st.integers(0, len(stream))), stop)
    reader = LineReader(stop_characters=True)
    items, rest = [], bytes(stream)
    while rest:
        cut = data.draw(st.integers(1, len(rest)))
        items += reader.feed(rest[:cut])
        rest = rest[cut:]
    lines = [read_host_body(item.body) for item in items if isinstance(item, Plain)]
    assert lines == sent
    assert sorted(item for item in items if isinstance(item, StopCharacter)) == sorted(stops)


@given(commands(), st.data())
def test_bursts_up_to_16_bits_are_caught(command: Command, data: st.DataObject) -> None:
    """What a 16-bit CRC promises: no burst error of up to 16 bits passes (any textbook)."""
    raw = bytearray(plain_line(command.body())[:-1])
    body_bits = (len(raw) - 5) * 8
    burst = data.draw(st.integers(1, 0xFFFF))
    start = data.draw(st.integers(0, max(0, body_bits - 16)))
    value = int.from_bytes(raw[:-5], "big") ^ (burst << start)
    if value.bit_length() > body_bits:
        return
    spoilt = value.to_bytes(len(raw) - 5, "big") + bytes(raw[-5:])
    assert isinstance(read_line(spoilt), Refused)


def test_a_line_past_its_length_is_dropped_and_the_next_one_read() -> None:
    reader = LineReader()
    items = reader.feed(b"x" * 5000 + b"\n" + plain_line("1 GO"))
    assert items == [Refused("longer than a line may be", too_long=True), Plain("1 GO")]


def test_a_bad_command_says_which_one_it_was() -> None:
    assert read_host_body("7 ARM 1 2") == BadCommand(7, protocol.Code.MALFORMED, "ARM")
    assert read_host_body("7 DANCE") == BadCommand(7, protocol.Code.UNKNOWN_WORD)


KEY = bytes(range(32))


def pair() -> tuple[KeyedSeal, KeyedSeal]:
    host = KeyedSeal(KEY, Direction.HOST, boot=3, nonce=9, opening=False)
    return host, KeyedSeal(KEY, Direction.LAUNCHER, boot=3, nonce=9)


def keyed(raw: bytes) -> Keyed:
    line = read_line(raw.rstrip(b"\n"))
    assert isinstance(line, Keyed)
    return line


def test_a_keyed_line_is_taken_once_and_never_out_of_order() -> None:
    host, launcher = pair()
    first, second = keyed(host.close("1 GO")), keyed(host.close("2 GO"))
    assert launcher.accepts(second)
    assert not launcher.accepts(second)  # replayed
    assert not launcher.accepts(first)  # overtaken


@given(st.binary(min_size=8, max_size=8), st.integers(0, 2**32 - 1))
def test_a_guessed_tag_is_refused(tag: bytes, counter: int) -> None:
    _, launcher = pair()
    line = Keyed("1 GO", counter, tag)
    true = tag_of(KEY, Direction.HOST, 3, 9, counter, "1 GO")
    assert launcher.accepts(line) == (tag == true and counter > 0)


def test_a_line_of_another_power_up_or_direction_is_refused() -> None:
    host, launcher = pair()
    line = keyed(host.close("1 GO"))
    assert not KeyedSeal(KEY, Direction.LAUNCHER, boot=4, nonce=9).accepts(line)
    assert not KeyedSeal(KEY, Direction.LAUNCHER, boot=3, nonce=8).accepts(line)
    assert not host.accepts(line)
    assert launcher.accepts(line)
