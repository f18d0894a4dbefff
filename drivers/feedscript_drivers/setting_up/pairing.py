"""Pairing: a fresh key goes into the launcher over its cable, and into this user's keeping."""

from __future__ import annotations

from feedscript.launcher.port import ConnectOptions, LauncherError
from feedscript_drivers.pages import LAUNCHER_REFUSED
from feedscript_drivers.setting_up.keys import keep_key, new_key
from feedscript_drivers.setting_up.own_number import give_number
from feedscript_drivers.transports import serial_port
from feedscript_drivers.wire.refused import refusal
from feedscript_drivers.wire.trust import Trust
from feedscript_drivers.wire.wire_launcher import WireLauncher

_ANSWER_S = 0.5  # slow memory takes its time


async def pair(address: str, options: ConnectOptions) -> tuple[str, str]:
    """Pair the launcher on a serial port; its serial number, and where the key lies.

    Raises LauncherError. The key is kept only after the launcher has taken it. The lines are plain:
    the answer to a keyed one would already be under the new key, which nobody could read.
    """
    async with serial_port.connect(address, options, trust=Trust.PLAIN) as launcher:
        assert isinstance(launcher, WireLauncher)
        return await put_key(launcher)


async def put_key(launcher: WireLauncher) -> tuple[str, str]:
    """The same on a connection that is open, and plain."""
    serial = await _own_serial(launcher)
    key = new_key()
    reply = await launcher.link.command("PAIR", key.hex(), again_s=_ANSWER_S)
    if reply.code is not None:
        raise LauncherError(
            LAUNCHER_REFUSED.report(
                f"PAIR was refused: {refusal(reply)}",
                help="disarm the launcher, and pair over its own cable",
                device=launcher.link.device,
            )
        )
    return serial, str(keep_key(serial, key))


async def _own_serial(launcher: WireLauncher) -> str:
    """The serial number by which the key is kept: no two launchers may have the same."""
    await give_number(launcher.link)
    who = await launcher.link.command("WHO")
    return who.arguments[0] if who.arguments else launcher.description.serial
