"""A mapped device by Bluetooth LE: each write one packet, each notification another.

What goes out and what comes in bears the name of its characteristic and a colon in front
(``feed:`` and the bytes), also in a capture.
"""

from __future__ import annotations

import contextlib
import math
from collections.abc import AsyncIterator, Callable

import anyio
from anyio.abc import ByteStream
from bleak import BleakClient
from bleak.backends.characteristic import BleakGATTCharacteristic
from bleak.exc import BleakError

from feedscript.override import override
from feedscript_drivers.mapped.description.keys import Gatt
from feedscript_drivers.mapped.description.templates import speaking
from feedscript_drivers.transports.ble import connected, unreachable


class GattStream(ByteStream):
    """Packets to and from the characteristics of one connected device."""

    def __init__(
        self, gatt: Gatt, client: BleakClient, found: dict[str, BleakGATTCharacteristic]
    ) -> None:
        self._gatt = gatt
        self._client = client
        self._found = found
        self._coming, self._come = anyio.create_memory_object_stream[bytes](math.inf)

    async def listen(self) -> None:
        """Begin to take notifications."""
        for name in speaking(self._gatt):
            await self._client.start_notify(self._found[name], self._taker(name))

    def _taker(self, name: str) -> Callable[[BleakGATTCharacteristic, bytearray], None]:
        def take(_characteristic: BleakGATTCharacteristic, data: bytearray) -> None:
            with contextlib.suppress(anyio.ClosedResourceError):
                self._coming.send_nowait(name.encode() + b":" + bytes(data))

        return take

    def ended(self) -> None:
        """The radio says that the connection is gone."""
        self._coming.close()

    @override
    async def receive(self, max_bytes: int = 65536) -> bytes:
        return await self._come.receive()

    @override
    async def send(self, item: bytes) -> None:
        name, _, packet = item.partition(b":")
        target, way = self._found[name.decode()], self._gatt.characteristics[name.decode()].write
        response = way == "with-response"
        step = len(packet) if response else target.max_write_without_response_size
        try:
            for start in range(0, len(packet), max(1, step)):
                await self._client.write_gatt_char(
                    target, packet[start : start + step], response=response
                )
        except (BleakError, OSError, EOFError) as error:
            raise anyio.BrokenResourceError from error

    @override
    async def send_eof(self) -> None:
        """A radio link has no end to send."""

    @override
    async def aclose(self) -> None:
        self._coming.close()
        self._come.close()


@contextlib.asynccontextmanager
async def gatt_link(gatt: Gatt, name: str) -> AsyncIterator[GattStream]:
    """The device with this name. Raises LauncherError when it has not what the mapping says."""
    streams: list[GattStream] = []

    def lost() -> None:
        for stream in streams:
            stream.ended()

    async with connected(name, gatt.service, lost, advertised=False) as client:
        stream = GattStream(gatt, client, _characteristics(gatt, client, name))
        streams.append(stream)
        await stream.listen()
        yield stream


def _characteristics(
    gatt: Gatt, client: BleakClient, device: str
) -> dict[str, BleakGATTCharacteristic]:
    """Each one that the mapping names, with what it must be able to do."""
    service = client.services.get_service(gatt.service)
    if service is None:
        raise unreachable(device, f"it has no service {gatt.service}")
    found = {}
    for name, described in gatt.characteristics.items():
        one = service.get_characteristic(described.uuid)
        if one is None:
            raise unreachable(device, f"it has no characteristic {name} ({described.uuid})")
        needed = {"with-response": "write", "without-response": "write-without-response"}
        wanted = [needed[described.write]] if described.write != "no" else []
        wanted += ["notify"] if described.notify else []
        for ability in wanted:
            if ability not in one.properties:
                raise unreachable(device, f"its characteristic {name} cannot {ability}")
        found[name] = one
    return found
