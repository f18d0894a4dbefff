"""The stand-in launcher as a Bluetooth LE peripheral with the wire's service."""

from __future__ import annotations

import asyncio
import contextlib
from collections.abc import AsyncIterator
from typing import Any, Final

import anyio
from bumble import data_types
from bumble.core import UUID, AdvertisingData, BaseBumbleError
from bumble.device import Device
from bumble.gatt import Characteristic, CharacteristicValue, Service
from bumble.pairing import PairingConfig, PairingDelegate
from feedscript_drivers.transports.bridge import OWN, Bridge
from feedscript_drivers.wire.one_error import one_error
from feedscript_simulator.links.driven import Driven
from feedscript_simulator.stand_in import StandIn

from tests.drivers.virtual_ble.air import Air

ADDRESS: Final = "C0:00:00:00:00:02"
_ADVERTISE_EVERY_MS: Final = 50.0


class Peripheral:
    """Carries a stand-in's bytes over notifications and writes."""

    def __init__(
        self, air: Air, stand_in: StandIn, name: str, most_mtu: int, bridge: Bridge = OWN
    ) -> None:
        self.air = air
        self.name = name
        self.service = bridge.service
        self.driven = Driven(stand_in, self._queue_out)
        self.device: Device = air.node(name, ADDRESS)
        self.device.gatt_server.max_mtu = most_mtu
        self.device.pairing_config_factory = lambda _connection: PairingConfig(
            sc=True, mitm=False, bonding=True, delegate=PairingDelegate()
        )
        self.written_sizes: list[int] = []
        self._connection: Any = None
        self._out: asyncio.Queue[bytes] = asyncio.Queue()
        properties = Characteristic.Properties
        written: Characteristic[bytes] = Characteristic(
            bridge.to_launcher,
            properties.WRITE | properties.WRITE_WITHOUT_RESPONSE,
            Characteristic.Permissions.WRITEABLE,
            CharacteristicValue(write=self._written),
        )
        self._notified: Characteristic[bytes] = Characteristic(
            bridge.to_host, properties.NOTIFY, Characteristic.Permissions(0), b""
        )
        self.device.add_service(Service(bridge.service, [written, self._notified]))

    async def start(self) -> None:
        """Power on and advertise the service and the name."""
        await self.device.power_on()
        flags = data_types.Flags(
            AdvertisingData.Flags.LE_GENERAL_DISCOVERABLE_MODE
            | AdvertisingData.Flags.BR_EDR_NOT_SUPPORTED
        )
        # Eight letters are what the 31 bytes of an advertisement leave for a name.
        name = data_types.CompleteLocalName(self.name[:8])
        service = data_types.CompleteListOf128BitServiceUUIDs([UUID(self.service)])
        await self.device.start_advertising(
            auto_restart=True,
            advertising_interval_min=_ADVERTISE_EVERY_MS,
            advertising_interval_max=_ADVERTISE_EVERY_MS,
            advertising_data=bytes(AdvertisingData([flags, service, name])),
        )

    def vanish(self, supervision_timeout_s: float = 0.72) -> None:
        """The launcher's power is cut."""
        self.air.vanish(self.device, supervision_timeout_s)

    async def _written(self, connection: Any, value: bytes) -> None:
        self._connection = connection
        self.written_sizes.append(len(value))
        self.driven.receive(value)

    def _queue_out(self, data: bytes) -> None:
        self._out.put_nowait(data)

    async def notify(self) -> None:
        """Send what the launcher says, in notifications of what fits."""
        while True:
            data = await self._out.get()
            connection = self._connection
            if connection is None:
                continue
            step = connection.att_mtu - 3
            # A subscriber that has gone hears nothing, as over a real radio.
            with contextlib.suppress(BaseBumbleError):
                for start in range(0, len(data), step):
                    await self.device.notify_subscriber(
                        connection, self._notified, data[start : start + step]
                    )


@contextlib.asynccontextmanager
async def peripheral(
    air: Air, stand_in: StandIn, name: str, most_mtu: int = 247, bridge: Bridge = OWN
) -> AsyncIterator[Peripheral]:
    """A stand-in on the air, keeping time, until the block is left."""
    launcher = Peripheral(air, stand_in, name, most_mtu, bridge)
    await launcher.start()
    with one_error():
        async with anyio.create_task_group() as tasks:
            tasks.start_soon(launcher.driven.keep_time)
            tasks.start_soon(launcher.notify)
            yield launcher
            tasks.cancel_scope.cancel()
    await launcher.device.power_off()
