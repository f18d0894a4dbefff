"""The invented device by Bluetooth on the virtual radio: its service, on bumble's host."""

from __future__ import annotations

import asyncio
import contextlib
import tomllib
from collections.abc import AsyncIterator, Callable
from typing import Any

import anyio
from bumble import data_types
from bumble.core import AdvertisingData, BaseBumbleError
from bumble.gatt import Characteristic, CharacteristicValue, Service
from feedscript_drivers.wire.one_error import one_error

from tests.drivers.mapped.devices.by_radio import ByRadio
from tests.drivers.mapped.mappings import text_of
from tests.drivers.virtual_ble.air import Air

ADDRESS = "C0:00:00:00:00:07"
GATT = tomllib.loads(text_of("by-radio"))["gatt"]
_PROPERTIES = Characteristic.Properties


class RadioDevice:
    """Carries what is written to the device, and notifies what it says."""

    def __init__(self, air: Air, name: str, lacks: str) -> None:
        self.air = air
        self.name = name
        self.device = ByRadio()
        self.node: Any = air.node(name, ADDRESS)
        self.writes: list[tuple[str, bool]] = []
        self.connection: Any = None
        self.said: asyncio.Queue[bytes] = asyncio.Queue()
        self.found = {
            each: self.characteristic(each, one)
            for each, one in GATT["characteristics"].items()
            if each != lacks
        }
        self.node.add_service(Service(GATT["service"], list(self.found.values())))

    def characteristic(self, name: str, described: dict[str, Any]) -> Characteristic[bytes]:
        if described.get("notify"):
            can, may = _PROPERTIES.NOTIFY, Characteristic.Permissions(0)
            return Characteristic(described["uuid"], can, may, b"")
        with_response = described["write"] == "with-response"
        can = _PROPERTIES.WRITE if with_response else _PROPERTIES.WRITE_WITHOUT_RESPONSE
        value = CharacteristicValue(write=self.taker(name))
        return Characteristic(described["uuid"], can, Characteristic.Permissions.WRITEABLE, value)

    def taker(self, name: str) -> Callable[[Any, bytes], None]:
        def take(connection: Any, payload: bytes) -> None:
            self.connection = connection
            packet = name.encode() + b":" + bytes(payload)
            for answer in self.device.hear(packet, anyio.current_time()):
                self.said.put_nowait(answer)

        return take

    async def start(self) -> None:
        """Advertises its name and, having no room, not its service."""
        await self.node.power_on()
        flags = data_types.Flags(AdvertisingData.Flags.LE_GENERAL_DISCOVERABLE_MODE)
        name = data_types.CompleteLocalName(self.name)
        await self.node.start_advertising(
            auto_restart=True,
            advertising_interval_min=50.0,
            advertising_interval_max=50.0,
            advertising_data=bytes(AdvertisingData([flags, name])),
        )

    async def keep_time(self) -> None:
        while True:
            for said in self.device.tick(anyio.current_time()):
                self.said.put_nowait(said)
            await anyio.sleep(0.01)

    async def notify(self) -> None:
        while True:
            name, _, payload = (await self.said.get()).partition(b":")
            if self.connection is None or name.decode() not in self.found:
                continue
            with contextlib.suppress(BaseBumbleError):
                await self.node.notify_subscriber(
                    self.connection, self.found[name.decode()], payload
                )


@contextlib.asynccontextmanager
async def radio_device(air: Air, name: str, lacks: str = "") -> AsyncIterator[RadioDevice]:
    """The device on the air until the block is left."""
    there = RadioDevice(air, name, lacks)
    await there.start()
    with one_error():
        async with anyio.create_task_group() as tasks:
            tasks.start_soon(there.keep_time)
            tasks.start_soon(there.notify)
            yield there
            tasks.cancel_scope.cancel()
    await there.node.power_off()
