"""The host's own virtual Bluetooth controller, which both ways to the peripheral talk through."""

from __future__ import annotations

from typing import Final

from bumble.device import ConnectionParametersPreferences, Device
from bumble.pairing import PairingConfig, PairingDelegate

from tests.drivers.virtual_ble.air import Air

ADDRESS: Final = "C0:00:00:00:00:01"
MTU: Final = 517
SUPERVISION_TIMEOUT_MS: Final = 720


async def central(air: Air) -> Device:
    """A powered central on the air."""
    device = air.node("host", ADDRESS)
    device.pairing_config_factory = lambda _connection: PairingConfig(
        sc=True, mitm=False, bonding=True, delegate=PairingDelegate()
    )
    await device.power_on()
    return device


def connection_preferences() -> ConnectionParametersPreferences:
    """Bumble's, with a supervision timeout that notices a lost launcher soon."""
    preferences = ConnectionParametersPreferences()
    preferences.supervision_timeout = SUPERVISION_TIMEOUT_MS
    return preferences
