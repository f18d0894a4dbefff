"""The line of ``board-check`` when the port goes: it comes back, or that is what is told."""

from __future__ import annotations

from collections.abc import Sequence

import anyio
import pytest
from anyio.abc import ByteStream
from feedscript_drivers.pages import PORT_MISSING
from feedscript_drivers.setting_up.board_check.check import STEPS, check_board
from feedscript_drivers.setting_up.board_check.line import ComesBack
from feedscript_drivers.setting_up.board_check.steps import Do, Found, See

from feedscript.launcher.port import LauncherError
from tests.firmware.virtual_link import in_virtual_time


class Port(ByteStream):
    """Gives these pieces, then is gone."""

    def __init__(self, pieces: Sequence[bytes]) -> None:
        self.pieces = list(pieces)

    async def receive(self, max_bytes: int = 65536) -> bytes:
        await anyio.lowlevel.checkpoint()
        if not self.pieces:
            raise anyio.EndOfStream
        return self.pieces.pop(0)

    async def send(self, item: bytes) -> None:
        await anyio.lowlevel.checkpoint()
        if not self.pieces:
            raise anyio.BrokenResourceError

    async def send_eof(self) -> None: ...

    async def aclose(self) -> None: ...


class Ports:
    """Opened in turn; None: there is no such port at the moment."""

    def __init__(self, *ports: Port | None) -> None:
        self.ports = list(ports)

    def __call__(self) -> ByteStream:
        port = self.ports.pop(0) if self.ports else None
        if port is None:
            raise LauncherError(PORT_MISSING.report("there is no port", help="", device=""))
        return port


def test_a_port_that_goes_with_the_power_is_opened_again() -> None:
    async def heard() -> list[bytes]:
        stream = ComesBack(Ports(Port([b"one"]), None, None, Port([b"two"])))
        first = await stream.receive()
        await stream.send(b"lost")
        return [first, await stream.receive()]

    assert in_virtual_time(heard) == [b"one", b"two"]


def test_a_port_that_stays_away_is_the_end() -> None:
    async def heard() -> None:
        stream = ComesBack(Ports(Port([])))
        with pytest.raises(anyio.EndOfStream):
            await stream.receive()

    in_virtual_time(heard)


class Nobody:
    async def do(self, what: Do) -> None: ...

    async def sees(self, what: See) -> bool:
        return True

    async def measures(self, question: str) -> bool:
        return True


@pytest.mark.parametrize("first", [0, 1], ids=["the greeting", "everything else"])
def test_a_port_that_is_gone_is_what_each_step_tells(first: int) -> None:
    async def checked() -> list[Found]:
        return [found async for found in check_board(Port([]), Nobody(), STEPS[first:])]

    found: list[Found] = in_virtual_time(checked)
    assert len(found) == (1 if first == 0 else len(STEPS) - 1)
    assert not any(each.fine for each in found)
    assert {each.figure.partition(" (")[0] for each in found} == {"the port closed"}
