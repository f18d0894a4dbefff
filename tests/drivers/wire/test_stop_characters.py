"""The stop characters: far from each other, and nobody else's on the way to the launcher."""

from __future__ import annotations

import math
import os
import pty
import random
import termios
import uuid
from collections import Counter
from collections.abc import Iterator
from itertools import combinations

import pytest
from feedscript_drivers.transports import ble_service
from feedscript_drivers.wire.codec import plain_line
from feedscript_drivers.wire.messages import Command
from feedscript_drivers.wire.protocol import StopCharacter
from hypothesis import example, given

from tests.drivers.wire.test_codec import SHARED, commands

STOPS = tuple(StopCharacter)
#: Status and delayed suspend of the BSD terminals, which Linux does not know (4.4BSD, termios(4)).
BSD_KEYS = frozenset((0x14, 0x19))
#: What terminals and printers move or answer by (ECMA-48, 1991: BS, HT, LF, VT, FF, CR, ESC).
LAYOUT = frozenset((0x00, 0x08, 0x09, 0x0A, 0x0B, 0x0C, 0x0D, 0x1B, 0x7F))
#: The escape key of telnet (RFC 854 leaves it to the client; ^] by common practice, no source).
TELNET = 0x1D
#: What an open motion controller in wide use takes for reset, hold, go on and status.
OTHER_MACHINES = frozenset((0x18, *b"!~?"))


def distance(one: int, other: int) -> int:
    return (one ^ other).bit_count()


def test_any_two_and_the_end_of_a_line_are_three_bits_apart() -> None:
    for one, other in combinations((*STOPS, ord("\n")), 2):
        assert distance(one, other) >= 3, (one, other)


@pytest.fixture
def terminal() -> Iterator[tuple[int, int]]:
    """Keyboard and line of a terminal as the system hands it out, nothing set."""
    ends = pty.openpty()
    yield ends
    for end in ends:
        os.close(end)


def test_no_key_of_a_terminal_is_one(terminal: tuple[int, int]) -> None:
    keys = {key[0] for key in termios.tcgetattr(terminal[1])[6] if isinstance(key, bytes)}
    assert termios.CINTR in keys, "the system's own settings are read"
    taken = keys | BSD_KEYS | LAYOUT | {TELNET}
    assert taken.isdisjoint(STOPS)


def test_a_terminal_that_edits_lines_hands_them_on(terminal: tuple[int, int]) -> None:
    keyboard, line = terminal
    typed = b"7 ST" + bytes(STOPS) + b"OP 1\n"
    os.write(keyboard, typed)
    assert os.read(line, 100) == typed


def test_none_means_anything_to_another_machine() -> None:
    assert OTHER_MACHINES.isdisjoint(STOPS)


@example(Command(7, "NAME", ("left_court",)))
@given(commands())
def test_one_flipped_bit_makes_an_emergency_stop_of_an_underscore_in_a_name_alone(
    command: Command,
) -> None:
    """Names are told to a launcher in safe: nothing armed is stopped by that."""
    said = plain_line(command.body())
    near = {chr(byte) for byte in said if distance(byte, StopCharacter.EMERGENCY) <= 1}
    assert near == ({"_"} if command.word == "NAME" and b"_" in said else set())


def test_the_bluetooth_numbers_are_drawn_each_on_its_own() -> None:
    names = (ble_service.SERVICE, ble_service.TO_LAUNCHER, ble_service.TO_HOST)
    for number in map(uuid.UUID, names):
        assert (number.variant, number.version) == (uuid.RFC_4122, 4)
    for one, other in combinations(names, 2):
        assert set(one.split("-")).isdisjoint(other.split("-"))


def an_hour_of_a_host() -> bytes:
    """Five heartbeats a second, and a feed every three seconds with settings drawn at random."""
    draw, said = random.Random(1), bytearray()
    for beat in range(5 * 3600):
        now_ms = 200 * beat + draw.randrange(40)
        said += plain_line(f"T {beat} {max(0, now_ms - 200)}")
        if beat % 15 == 0:
            feed_id = beat // 15 + 1
            upper, lower = draw.randrange(1500, 3000), draw.randrange(1500, 3000)
            pan, tilt = draw.randrange(-800, 800), draw.randrange(500, 1500)
            setting = (upper, lower, 0, pan, tilt, 0)
            said += plain_line(Command(feed_id, "FEED", (feed_id, now_ms + 3000, *setting)).body())
    return bytes(said)


def test_the_text_says_how_likely_noise_makes_one() -> None:
    said = an_hour_of_a_host()
    assert round(len(said), -4) == 420_000
    text = (SHARED / "protocol.md").read_text(encoding="utf-8").replace("\n", " ")

    def one_in(stop: StopCharacter, flips: int) -> int:
        """In how many changes of so many bits of one byte one makes the stop character."""
        makes = sum(n for byte, n in Counter(said).items() if distance(byte, stop) == flips)
        return round(len(said) * math.comb(8, flips) / makes)

    assert f"a hold in 1 of {one_in(StopCharacter.HOLD, 1)} cases" in text
    assert f"a stop in 1 of {one_in(StopCharacter.STOP, 1)}, " in text
    assert f"an emergency stop in 1 of {one_in(StopCharacter.EMERGENCY, 2)} cases" in text
