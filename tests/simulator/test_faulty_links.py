"""``feedscript stand-in --fault``: what is asked for befalls whatever crosses its line."""

from __future__ import annotations

import contextlib
import os
import signal
import socket
import sys
import threading
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
import trio
import trio.testing
from feedscript_drivers.transports.tcp import parse_address
from feedscript_drivers.wire.codec import crc16
from feedscript_simulator.faults import SOUND, LineFaults
from feedscript_simulator.links.faulty_line import one_way
from feedscript_simulator.program import StandInOptions, serve

from feedscript.launcher.profile.read_profile import read_profile
from feedscript.shipped import shipped_folder

PROFILE = read_profile(shipped_folder() / "launchers" / "garage.toml").profile
assert PROFILE is not None

#: A line's bytes out, and the bytes that come back.
Ends = tuple[Callable[[bytes], object], Callable[[], bytes]]


def plain(body: str) -> bytes:
    return f"{body}*{crc16(body.encode()):04X}\n".encode()


@contextlib.contextmanager
def opened(address: str) -> Iterator[Ends]:
    """The stand-in's pty or port, without a driver that would ask again."""
    kind, _, where = address.partition(":")
    if kind == "tcp":
        with socket.create_connection(parse_address(where.removesuffix("@unkeyed"))) as line:
            yield line.sendall, lambda: line.recv(4096)
    else:
        port = os.open(where, os.O_RDWR | os.O_NOCTTY)
        try:
            yield lambda data: os.write(port, data), lambda: os.read(port, 4096)
        finally:
            os.close(port)


def answers(options: StandInOptions) -> int:
    """How many lines answer one question, before those to the question after it."""
    heard: list[bytes] = []

    def ask(address: str) -> None:
        try:
            with opened(address) as (say, hear):
                say(plain("7 STAT"))
                said = b""
                while said.count(b"\n") < 1:
                    said += hear()
                say(plain("8 STAT"))
                while b"\n8 " not in said:
                    said += hear()
                heard.extend(line for line in said.split(b"\n") if line.startswith(b"7 "))
        finally:
            os.kill(os.getpid(), signal.SIGINT)  # what a person presses who has seen enough

    def told(line: str) -> None:
        if '"ready"' in line:
            address = line.split('"address":')[1].split('"')[1]
            asking.append(threading.Thread(target=ask, args=(address,)))
            asking[0].start()

    asking: list[threading.Thread] = []
    serve(options, told)
    asking[0].join(10)
    return len(heard)


@pytest.fixture(autouse=True)
def no_keys(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> Iterator[None]:
    """Nobody types at the stand-in."""
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path))
    with open(os.devnull) as nothing:
        monkeypatch.setattr(sys, "stdin", nothing)
        yield


@pytest.mark.parametrize("place", [{}, {"tcp_port": 0, "unkeyed": True}], ids=["pty", "tcp"])
def test_what_crosses_its_line_is_doubled_each_way(place: dict[str, int]) -> None:
    sound = StandInOptions(PROFILE, **place, as_json=True)
    doubled = StandInOptions(PROFILE, **place, as_json=True, faults=("doubled=1",))
    assert answers(sound) == 1
    assert answers(doubled) == 4


def arrived(faults: LineFaults) -> list[bytes]:
    """What a hundred pieces become on a line."""
    heard: list[bytes] = []

    async def run() -> None:
        async with one_way(heard.append, faults, "seed") as put:
            for _ in range(100):
                put(b"piece")
            await trio.sleep(5)

    trio.run(run, clock=trio.testing.MockClock(autojump_threshold=0))
    return heard


def test_a_line_loses_the_share_that_was_asked_for() -> None:
    assert arrived(SOUND) == [b"piece"] * 100
    assert arrived(LineFaults(lost=1.0)) == []
    assert 30 < len(arrived(LineFaults(lost=0.5))) < 70
