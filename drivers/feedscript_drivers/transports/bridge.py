"""What lies between a host and a launcher off the cable: a module that passes bytes on.

The wire's keyed lines make such a module an untrusted pipe, so any transparent serial bridge will
do. A small TOML file says what is its own about it: its Bluetooth numbers, how much it takes at
once, how fast. ``ble:NAME@FILE.toml`` and ``tcp:HOST:PORT@FILE.toml`` name it; without one the
project's own numbers hold.
"""

# No postponed annotations here: the file's keys are made from these types as they stand.

import math
from pathlib import Path
from typing import Annotated

import anyio
import msgspec
from anyio.abc import ByteStream
from msgspec import Meta

from feedscript.diagnostics import Page
from feedscript.launcher.port import LauncherError
from feedscript.override import override
from feedscript.tables import Mistake
from feedscript.toml_file import first_of, read_toml
from feedscript_drivers.transports.ble_service import SERVICE, TO_HOST, TO_LAUNCHER
from feedscript_drivers.wire.protocol import MOST_LINE

BRIDGE = Page(
    slug="bridge-file",
    title="A bridge's file that cannot be used",
    why=(
        "A bridge passes the wire's bytes on between radio or network and a launcher's own port. "
        "Its file says only what is its own: Bluetooth numbers, the most bytes at once, the pause "
        "after each piece. A stop goes out behind at most one line: a bridge so slow that a line "
        "takes longer than a tenth of a second is refused."
    ),
)
#: The longest that a line may take through a bridge: a stop may have to wait for it. Design value.
MOST_LINE_S = 0.1
_MOST_BYTES = 10_000
_NUMBER = r"^[0-9a-f]{8}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{12}$"


def _number(description: str) -> Meta:
    example = "8a51c3d0-2b6f-4e19-a7c4-90d1e2f3a4b5"
    return Meta(description=description, examples=[example], pattern=_NUMBER)


class Bridge(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """One file; of a network bridge only the last two keys matter."""

    service: Annotated[str, _number("the number of its Bluetooth service, small letters")] = SERVICE
    to_launcher: Annotated[str, _number("the characteristic that the host writes")] = TO_LAUNCHER
    to_host: Annotated[str, _number("the characteristic that notifies the host")] = TO_HOST
    advertised: Annotated[
        bool, Meta(description="whether it advertises its service", examples=[False])
    ] = True
    with_response: Annotated[
        bool, Meta(description="whether each write waits until it was taken", examples=[True])
    ] = False
    chunk_bytes: Annotated[
        int, Meta(description="the most that it takes at once", examples=[20], ge=1, le=512)
    ] = 512
    pause_s: Annotated[
        float, Meta(description="its pause after each piece, s", examples=[0.01], ge=0.0, le=0.05)
    ] = 0.0


OWN = Bridge()


def split_address(address: str) -> tuple[str, Bridge]:
    """An address without its bridge's file, and the bridge. Raises LauncherError."""
    where, _, file = address.rpartition("@")
    if not where or not file.endswith(".toml"):
        return address, OWN
    return where, read_bridge(Path(file))


def read_bridge(path: Path) -> Bridge:
    """The bridge in a file. Raises LauncherError with what is wrong, and what is allowed."""
    reading = read_toml(path, Bridge, BRIDGE, _MOST_BYTES)
    if reading.value is None:
        raise LauncherError(first_of(reading.diagnostics))
    bridge = reading.value
    line_s = (math.ceil(MOST_LINE / bridge.chunk_bytes) - 1) * bridge.pause_s
    if line_s > MOST_LINE_S:
        message = f"a line may take {line_s:.2g} s through it, and a stop waits for it"
        fix = f"at most {MOST_LINE_S:g} s: larger pieces, or a shorter pause"
        (slow,) = reading.told((Mistake(("pause_s",), message, fix),))
        raise LauncherError(slow)
    return bridge


class BridgedStream(ByteStream):
    """A stream that gives a bridge no more at once than it takes, and its pause."""

    def __init__(self, inner: ByteStream, bridge: Bridge) -> None:
        self._inner = inner
        self._bridge = bridge
        self._free_s = -math.inf  # when the bridge takes the next piece

    @override
    async def send(self, item: bytes) -> None:
        step = self._bridge.chunk_bytes
        for start in range(0, len(item), step):
            await anyio.sleep_until(self._free_s)
            self._free_s = anyio.current_time() + self._bridge.pause_s
            await self._inner.send(item[start : start + step])

    @override
    async def receive(self, max_bytes: int = 65536) -> bytes:
        return await self._inner.receive(max_bytes)

    @override
    async def send_eof(self) -> None:
        await self._inner.send_eof()

    @override
    async def aclose(self) -> None:
        await self._inner.aclose()


def bridged(stream: ByteStream, bridge: Bridge) -> ByteStream:
    """The stream through a bridge; as it is where there is none."""
    return stream if bridge == OWN else BridgedStream(stream, bridge)
