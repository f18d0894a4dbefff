"""A bridge between host and launcher: its file, its pieces, its own Bluetooth numbers."""

from __future__ import annotations

import logging
from pathlib import Path

import anyio
import pytest
from feedscript_drivers.transports import ble, tcp
from feedscript_drivers.transports.bridge import (
    OWN,
    Bridge,
    BridgedStream,
    read_bridge,
    split_address,
)
from feedscript_drivers.transports.inbox import InboxStream
from feedscript_simulator.links.on_tcp import on_tcp

from feedscript.launcher.port import ConnectOptions, LauncherError, LauncherState
from tests.drivers.conformance.test_port import KEY, PROFILE, stand_in_of
from tests.drivers.virtual_ble.air import Air
from tests.drivers.virtual_ble.bleak_backend import bleak_on
from tests.drivers.virtual_ble.central import central
from tests.drivers.virtual_ble.peripheral import peripheral
from tests.virtual_time import in_virtual_time

NUMBERS = """service = "3b1f0a01-77aa-4c6e-8d21-0f9e5b7c6d10"
to_launcher = "3b1f0a02-77aa-4c6e-8d21-0f9e5b7c6d10"
to_host = "3b1f0a03-77aa-4c6e-8d21-0f9e5b7c6d10"
"""
OPTIONS = ConnectOptions(profile=PROFILE, session=1, key=KEY)


@pytest.fixture(autouse=True)
def quiet(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path))
    logging.getLogger("bleak").setLevel(logging.ERROR)


def written(folder: Path, text: str) -> Path:
    file = folder / "bridge.toml"
    file.write_text(text, encoding="utf-8")
    return file


def test_an_address_may_name_its_bridge(tmp_path: Path) -> None:
    file = written(tmp_path, NUMBERS + "chunk_bytes = 20\npause_s = 0.01\nwith_response = true\n")
    where, bridge = split_address(f"court 2@{file}")
    assert where == "court 2"
    assert (bridge.chunk_bytes, bridge.pause_s, bridge.with_response) == (20, 0.01, True)
    assert split_address("127.0.0.1:7@unkeyed") == ("127.0.0.1:7@unkeyed", OWN)
    assert split_address(f"127.0.0.1:7@unkeyed@{file}") == ("127.0.0.1:7@unkeyed", bridge)


@pytest.mark.parametrize(
    ("text", "message", "mend"),
    [
        ("chunk_byte = 20", "no key 'chunk_byte'", "did you mean `chunk_bytes`"),
        ("chunk_bytes = 0", "chunk_bytes is 0", "1 to 512"),
        ('service = "FFE0"', "not written as it must be", "small letters"),
        ("chunk_bytes = 8\npause_s = 0.05", "a stop waits for it", "shorter pause"),
        ("chunk_bytes", "not TOML", "`key = value`"),
    ],
)
def test_a_file_that_is_wrong_says_what_is_allowed(
    text: str, message: str, mend: str, tmp_path: Path
) -> None:
    with pytest.raises(LauncherError) as caught:
        read_bridge(written(tmp_path, text))
    assert caught.value.diagnostic.slug == "bridge-file"
    assert message in caught.value.diagnostic.message
    assert mend in caught.value.diagnostic.help


class Noting(InboxStream):
    """Notes what comes, and when."""

    def __init__(self) -> None:
        super().__init__()
        self.pieces: list[tuple[float, bytes]] = []

    async def send(self, item: bytes) -> None:
        self.pieces.append((round(anyio.current_time(), 3), item))


def test_a_bridge_is_given_no_more_at_once_than_it_takes_and_its_pause() -> None:
    async def run() -> list[tuple[float, bytes]]:
        far = Noting()
        stream = BridgedStream(far, Bridge(chunk_bytes=8, pause_s=0.005))
        await anyio.sleep(1.0)
        begun_s = anyio.current_time()
        await stream.send(b"0123456789abcdefXYZ")
        await stream.send(b"!")
        return [(round(at_s - begun_s, 3), piece) for at_s, piece in far.pieces]

    assert in_virtual_time(run) == [
        (0.0, b"01234567"),
        (0.005, b"89abcdef"),
        (0.01, b"XYZ"),
        (0.015, b"!"),
    ]


def test_a_bluetooth_bridge_with_numbers_of_its_own(tmp_path: Path) -> None:
    file = written(tmp_path, NUMBERS + "chunk_bytes = 16\nwith_response = true\n")

    async def run() -> list[int]:
        air, stand_in = Air(), stand_in_of(cable=False, key=KEY)
        async with peripheral(air, stand_in, "bridge", bridge=read_bridge(file)) as there:
            with bleak_on(await central(air)):
                async with ble.connect(f"bridge@{file}", OPTIONS) as launcher:
                    assert (await launcher.status()).state is LauncherState.SAFE
            return there.written_sizes

    assert max(anyio.run(run)) == 16


def test_a_network_bridge_in_small_pieces(tmp_path: Path) -> None:
    file = written(tmp_path, "chunk_bytes = 16\npause_s = 0.002\n")

    async def run() -> LauncherState:
        async with (
            on_tcp(stand_in_of(cable=False, key=KEY), 0) as address,
            tcp.connect(f"{address}@{file}", OPTIONS) as launcher,
        ):
            return (await launcher.status()).state

    assert anyio.run(run) is LauncherState.SAFE
