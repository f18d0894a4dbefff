"""The stand-in on a virtual radio of its own, for another process to find over D-Bus."""

from __future__ import annotations

import contextlib
from collections.abc import AsyncIterator

from feedscript_simulator.stand_in import StandIn

from tests.drivers.virtual_ble.air import Air
from tests.drivers.virtual_ble.bluez import bluetooth_service
from tests.drivers.virtual_ble.central import central
from tests.drivers.virtual_ble.peripheral import peripheral

NAME = "stand-in"


@contextlib.asynccontextmanager
async def on_air(stand_in: StandIn) -> AsyncIterator[str]:
    """Serve over virtual Bluetooth; yields the name. The bus is this process's system bus."""
    air = Air()
    async with peripheral(air, stand_in, NAME), bluetooth_service(await central(air)):
        yield NAME
