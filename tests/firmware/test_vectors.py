"""The checks that Python and firmware share: shared/vectors and the tables of protocol.json."""

from __future__ import annotations

import json
import re
import subprocess
import tomllib
from pathlib import Path
from typing import Any

import pytest

from tests.firmware.far_end import BUILD, FIRMWARE, FarEnd
from tests.firmware.plain_host import PlainHost

SHARED = Path(__file__).resolve().parents[2] / "shared"


def vectors(name: str) -> dict[str, Any]:
    """One file of shared/vectors."""
    content: dict[str, Any] = json.loads((SHARED / "vectors" / f"{name}.json").read_text())
    return content


def sums(lines: list[str]) -> list[str]:
    """What the core's own sums answer."""
    done = subprocess.run(
        [str(BUILD / "vectors")],
        input="\n".join(lines) + "\n",
        capture_output=True,
        text=True,
        check=True,
    )
    return done.stdout.split()


def test_crc_of_every_vector(images: str) -> None:
    rows = vectors("crc")["vectors"]
    got = sums([f"crc {row['text'].encode('latin-1').hex()}" for row in rows])
    assert got == [row["crc"] for row in rows]
    assert rows[0] == {"text": "123456789", "crc": "29B1"}  # catalogue: CRC-16/IBM-3740


def test_blake2s_of_every_vector(images: str) -> None:
    """RFC 7693, appendix B, and known answers made with hashlib."""
    rows = vectors("keyed")["rfc7693"]
    asked = [
        f"hash {row['key'] or '-'} {row['digest_bytes']} {row['message_hex'] or '-'}"
        for row in rows
    ]
    assert sums(asked) == [row["digest"] for row in rows]
    assert rows[0]["digest"].startswith("508c5e8c327c14e2e1a72ba34eeb452f")


def test_tag_of_every_keyed_line(images: str) -> None:
    """By way of a prepared key, as the firmware works a line."""
    rows = vectors("keyed")["lines"]
    asked = []
    for row in rows:
        numbers = (row["boot"], row["nonce"], row["counter"])
        message = row["direction"].encode() + b"".join(n.to_bytes(4, "little") for n in numbers)
        asked.append(f"line {row['key']} 8 {(message + row['body'].encode()).hex()}")
    assert [tag.upper() for tag in sums(asked)] == [row["line"][-16:] for row in rows]


@pytest.mark.parametrize("row", vectors("lines")["bad"], ids=lambda row: row["why"])
def test_a_bad_line_has_no_effect_and_no_answer(host: PlainHost, row: dict[str, str]) -> None:
    before = [int(n) for n in host.must("CNTS")]
    host.lines.clear()
    host.write(row["line"].encode("latin-1") + b"\n")
    host.advance(30)
    assert host.lines == []
    after = [int(n) for n in host.must("CNTS")]
    assert sum(after) - sum(before) == 1
    assert host.state() == 0


def expect_next(host: PlainHost, number: int, nonce: int) -> None:
    """Open anew under the number before this one, so that a line of this number is new."""
    reply = host.command(f"OPEN 77 {nonce}", sequence=(number - 1) % 65536)
    assert reply.startswith("OK")


def test_malformed_bodies_are_refused_by_name(host: PlainHost) -> None:
    """NO 1 (NO 2 for an unknown word) where the body begins with a right number and a space."""
    for nonce, row in enumerate(vectors("lines")["malformed"], start=5000):
        begins = re.match(r"(0|[1-9]\d{0,4}) ", row["body"])
        number = int(begins[1]) if begins and int(begins[1]) <= 65535 else None
        expect_next(host, number or 1, nonce)
        host.lines.clear()
        host.write(row["line"].encode("latin-1") + b"\n")
        host.advance(30)
        if number is None:
            assert host.lines == [], row["why"]
        else:
            code = 2 if row["why"] == "lower-case word" else 1
            assert host.replies[number][-1] == f"NO {code}", row["why"]


def test_good_lines_are_read(host: PlainHost) -> None:
    """The host's lines among the good ones are answered; the launcher's own are not commands."""
    for nonce, row in enumerate(vectors("lines")["good"], start=6000):
        body = row["body"]
        command = re.match(r"(\d+) (?!OK|NO)[A-Z]+", body)
        expect_next(host, int(command[1]) if command else 1, nonce)
        host.lines.clear()
        host.write(row["line"].encode() + b"\r\n")  # a CR before the LF is ignored
        host.advance(300)
        answered = [line for line in host.lines if not line.startswith("!")]
        is_own = command is None and not body.startswith("T ")
        assert len(answered) == (0 if is_own else 1), body


def test_words_and_numbers_are_those_of_the_protocol() -> None:
    """core/wire/wire.h and the command table say what shared/protocol.json says."""
    protocol = json.loads((SHARED / "protocol.json").read_text())
    wire = (FIRMWARE / "core" / "wire" / "wire.h").read_text()
    table = (FIRMWARE / "core" / "commands" / "commands.c").read_text()
    defined = {name: int(value) for name, value in re.findall(r"#define (\w+) (\d+)u?\b", wire)}
    times = protocol["times_ms"]
    assert defined["SILENCE_MS"] == times["silence"]
    assert defined["WATCHDOG_MS"] == times["watchdog"]
    assert defined["RUN_DOWN_MS"] <= times["run_down"]
    assert defined["SILENCE_MS"] + defined["RUN_DOWN_MS"] < defined["WATCHDOG_MS"]
    assert defined["PERSON_MS"] == times["person"]
    assert defined["HORIZON_MS"] == times["horizon"]
    assert defined["GRACE_MS"] == times["ready_grace"]
    assert defined["JAM_MS"] == times["jam"]
    assert defined["REACH_MS"] == times["drive_reach"]
    assert defined["BODY_MOST"] == protocol["most"]["body"]
    assert defined["LINE_MOST"] == protocol["most"]["line"]
    ahead = {"sequence": defined["SEQUENCE_AHEAD"], "counter": defined["COUNTER_AHEAD"]}
    assert ahead == protocol["ahead"]
    assert defined["KEPT_FEEDS"] >= protocol["keeps"]["feeds"]
    assert defined["KEPT_EVENTS"] >= protocol["keeps"]["events"]
    assert dict(re.findall(r'\{"([A-Z]+)", "([a-zU?]*)"', table)) == protocol["commands"]
    stops = {name: int(value, 16) for name, value in re.findall(r"BYTE_(\w+) 0x(\w+)u", wire)}
    assert {k.lower(): v for k, v in stops.items()} == protocol["stop_characters"]


def test_enumerations_are_those_of_the_protocol() -> None:
    protocol = json.loads((SHARED / "protocol.json").read_text())
    wire = (FIRMWARE / "core" / "wire" / "wire.h").read_text()
    for prefix, table in (
        ("STATE", "states"),
        ("REASON", "reasons"),
        ("FAULT", "faults"),
        ("NO", "errors"),
    ):
        numbers = {int(n) for n in re.findall(rf"\b{prefix}_\w+ = (\d+)", wire)}
        assert numbers - {0} == {int(n) for n in protocol[table]} - {0}, table


def test_the_images_tell_the_version_of_the_project(host: PlainHost) -> None:
    """Number 110 is made of the version that a release carries; ten thousands, hundreds, ones."""
    project = tomllib.loads((SHARED.parent / "pyproject.toml").read_text())["project"]
    major, minor, patch = (int(part) for part in project["version"].split("."))
    assert int(host.must("GET 110")[1]) == 10_000 * major + 100 * minor + patch


def test_the_capabilities_of_hello_are_those_of_the_board(host: PlainHost) -> None:
    protocol = json.loads((SHARED / "protocol.json").read_text())
    caps = int(host.must("HELLO 2 2")[3], 16)
    named = {name for bit, name in protocol["capabilities"].items() if caps & int(bit)}
    assert named == {
        "arming-switch", "ball-sensor", "voltage", "temperature", "keyed", "emergency-input",
        "drive-feedback",
    }  # fmt: skip


def test_the_size_report_is_within_the_chip(images: str) -> None:
    sizes = re.search(r"flash (\d+) of 32768 bytes, RAM (\d+) of 2048", images)
    assert sizes is not None, images
    assert int(sizes[1]) <= 30720  # two kilobytes left for a boot loader
    assert int(sizes[2]) <= 1648  # four hundred bytes of stack; measured below


def test_the_stack_stays_clear_of_the_variables(memories: dict[str, Path]) -> None:
    with FarEnd("avr", memory=memories["avr"]) as far, PlainHost(far) as host:
        host.open()
        key = bytes(range(32))
        host.must(f"PAIR {key.hex()}", wait=600)
        host.arm()
        host.feed(1, 3000)
        host.run(4000)
        assert len(far.leaves()) == 1
        used = far.get()["stack_bytes"]
    assert used < 500, used
