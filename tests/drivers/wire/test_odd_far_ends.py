"""What a user reads when something else than a launcher, or nothing, is at the far end.

Each report names the step of the handshake, after how long it was given up, which bytes came, and
what to try next.
"""

from __future__ import annotations

import errno
import os
import re
from collections.abc import Callable
from pathlib import Path

import anyio
import pytest
import serial
import trio
import trio.testing
from feedscript_drivers.transports import serial_port
from feedscript_drivers.transports.inbox import InboxStream
from feedscript_drivers.wire.codec import plain_line
from feedscript_drivers.wire.protocol import VERSION
from feedscript_drivers.wire.trust import Trust
from feedscript_drivers.wire.wire_launcher import open_launcher

from feedscript.diagnostics import Diagnostic
from feedscript.launcher.port import ConnectOptions, LauncherError
from feedscript.launcher.profile.read_profile import read_profile
from feedscript.shipped import shipped_folder

PROFILE = read_profile(shipped_folder() / "launchers" / "garage.toml").profile
assert PROFILE is not None


class OddEnd(InboxStream):
    """Answers whatever comes in its own way."""

    def __init__(self, answer: Callable[[bytes], bytes]) -> None:
        super().__init__()
        self._answer = answer

    async def send(self, item: bytes) -> None:
        await anyio.lowlevel.checkpoint_if_cancelled()
        self.come(self._answer(item))


def ending_of(answer: Callable[[bytes], bytes], device: str = "serial:/dev/bench") -> Diagnostic:
    """What an attempt to open this far end ends with, on the virtual clock."""

    async def run() -> None:
        options = ConnectOptions(profile=PROFILE, session=1)
        async with open_launcher(OddEnd(answer), options, device, trust=Trust.PLAIN):
            pass

    with pytest.raises(LauncherError) as caught:
        trio.run(run, clock=trio.testing.MockClock(autojump_threshold=0))
    return caught.value.diagnostic


def report_of(answer: Callable[[bytes], bytes], device: str = "serial:/dev/bench") -> Diagnostic:
    """The same, of a far end that does not answer as a launcher does."""
    diagnostic = ending_of(answer, device)
    assert diagnostic.slug == "no-answer"
    assert re.search(r"step \w+: no answer in \d\.\d s; ", diagnostic.message)
    return diagnostic


def test_silence() -> None:
    said = report_of(lambda _data: b"")
    assert "step hello: no answer in 6.0 s; no byte came" in said.message
    assert "`feedscript find --knock`" in said.help


def test_bytes_of_another_speed() -> None:
    """A UART that samples at a quarter of the sender's speed reads few, mostly odd bytes."""
    said = report_of(lambda data: bytes((0xE0, 0x00, 0xFE, 0x78))[: len(data) // 4])
    assert repr(b"\xe0\x00\xfe\x78")[2:-1] in said.message
    assert "`feedscript link-check --on serial:/dev/bench@9600`" in said.help
    assert "`baud`" in said.help


def test_what_is_sent_comes_straight_back() -> None:
    said = report_of(lambda data: data)
    assert "HELLO 2 2" in said.message
    assert "RX and TX" in said.help


def test_another_device_with_words_of_its_own() -> None:
    said = report_of(lambda _data: b"error: unknown command\r\n")
    assert "error: unknown command" in said.message
    assert "`feedscript find --knock`" in said.help
    assert "find" in report_of(lambda _data: b"who?\r\n", "tcp:192.0.2.7:1").help


def hello_only(version: int) -> Callable[[bytes], bytes]:
    """A far end that answers a hello, and nothing else."""

    def answer(data: bytes) -> bytes:
        number = data.split(b" ", 1)[0].decode()
        hello = f"{number} OK {version} 5 0 7CD 700 1000 4 120000"
        return plain_line(hello) if b" HELLO " in data else b""

    return answer


def test_a_launcher_of_another_version_is_not_spoken_to() -> None:
    """Its stop characters may be others, whatever it was asked for."""
    said = ending_of(hello_only(VERSION - 1))
    assert said.slug == "launcher-refused"
    assert f"version {VERSION - 1} of the wire" in said.message
    assert "firmware" in said.help


def test_a_launcher_that_falls_silent_after_hello() -> None:
    """It was there a moment ago: no other port is suspected."""

    said = report_of(hello_only(VERSION))
    assert "step who: no answer in 2.0 s" in said.message
    assert "cable" in said.help
    assert "--knock" not in said.help


def opening(port: str) -> Diagnostic:
    with pytest.raises(LauncherError) as caught:
        serial_port.open_port(port, 115200, raise_dtr=True)
    return caught.value.diagnostic


def test_a_port_that_another_program_holds() -> None:
    """Two programs on one pseudo-terminal; the first has it to itself."""
    ours, theirs = os.openpty()
    try:
        name = os.ttyname(theirs)
        held = serial_port.open_port(name, 115200, raise_dtr=True)
        said = opening(name)
        held.close()
        serial_port.open_port(name, 115200, raise_dtr=True).close()
    finally:
        os.close(ours)
        os.close(theirs)
    assert said.slug == "port-busy"
    assert "`feedscript look-over`" in said.help


def test_a_port_that_this_user_may_not_open(monkeypatch) -> None:
    def refuse(_port) -> None:
        raise serial.SerialException(errno.EACCES, "could not open port")

    monkeypatch.setattr(serial.Serial, "open", refuse)
    said = opening("/dev/ttyUSB0")
    assert said.slug == "port-denied"
    assert "sudo usermod -aG dialout $USER" in said.help


@pytest.mark.parametrize("port", ["/dev/no-such-port", "a file", "/"])
def test_what_is_no_port_is_named_with_its_step(port: str, tmp_path: Path) -> None:
    if port == "a file":  # one that whoever runs this may open
        port = str(tmp_path / "file")
        Path(port).write_text("no port")
    diagnostic = opening(port)
    assert diagnostic.slug == "port-missing"
    assert diagnostic.message.startswith("step port: ")
    assert port in diagnostic.message
    assert "Errno" not in diagnostic.message
    assert "`feedscript find`" in diagnostic.help
