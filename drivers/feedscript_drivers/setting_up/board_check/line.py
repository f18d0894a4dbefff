"""The line to a board at its cable, which may go and come back with the board's power."""

from __future__ import annotations

import contextlib
from collections.abc import AsyncIterator, Callable
from typing import Final

import anyio
from anyio.abc import ByteStream

from feedscript.launcher.port import LauncherError
from feedscript.override import override
from feedscript_drivers.pages import ADDRESS
from feedscript_drivers.transports.serial_port import SerialStream, open_port, parse_address

_BAUD: Final = 115_200
_STARTS_S: Final = 2.5  # a board that the opening has reset is ready by then
_COMES_BACK_S: Final = 60.0
_TRY_AGAIN_S: Final = 0.3


class ComesBack(ByteStream):
    """A port that is opened again when it was gone: a USB bridge goes with its board's power.

    What is sent meanwhile is lost, as on a cable that is not plugged in.
    """

    def __init__(self, open_it: Callable[[], ByteStream]) -> None:
        self._open_it = open_it
        self._stream = open_it()

    @override
    async def receive(self, max_bytes: int = 65536) -> bytes:
        while True:
            try:
                return await self._stream.receive(max_bytes)
            except anyio.EndOfStream:
                await self._again()

    async def _again(self) -> None:
        await self._stream.aclose()
        with anyio.move_on_after(_COMES_BACK_S):
            while True:
                try:
                    self._stream = self._open_it()
                except LauncherError:
                    await anyio.sleep(_TRY_AGAIN_S)
                else:
                    return
        raise anyio.EndOfStream

    @override
    async def send(self, item: bytes) -> None:
        with contextlib.suppress(anyio.BrokenResourceError):
            await self._stream.send(item)

    @override
    async def send_eof(self) -> None:
        """A serial line has no end to send."""

    @override
    async def aclose(self) -> None:
        await self._stream.aclose()


@contextlib.asynccontextmanager
async def board_at(url: str) -> AsyncIterator[ByteStream]:
    """The line to a board at its cable, serial:DEVICE[@BAUD]. Raises LauncherError."""
    scheme, _, address = url.partition(":")
    if scheme != "serial":
        raise _not_at_its_cable(url)
    device, baud = parse_address(address, _BAUD)
    async with ComesBack(lambda: SerialStream(open_port(device, baud, raise_dtr=True))) as stream:
        await anyio.sleep(_STARTS_S)
        yield stream


def _not_at_its_cable(url: str) -> LauncherError:
    """A board is checked by the person beside it, at its own cable."""
    return LauncherError(
        ADDRESS.report(
            f"{url!r} is not a board at its cable",
            help="write serial:DEVICE; `feedscript find` lists the ports there are",
            device=url,
        )
    )
