"""What is in reach: serial ports with what they are, and launchers on Bluetooth."""

from __future__ import annotations

import os
import re
from pathlib import Path
from typing import Final

import anyio
from msgspec import Struct
from msgspec.structs import replace
from serial.tools import list_ports

from feedscript.launcher.port import LauncherError
from feedscript_drivers.transports.serial_port import SerialStream, open_port
from feedscript_drivers.wire.link import Link
from feedscript_drivers.wire.protocol import VERSION

_BY_ID: Final = Path("/dev/serial/by-id")
_KNOCK_S: Final = 2.5  # a board that the opening has reset is ready by then
_NEXT_SPEED_S: Final = 0.7
#: Speeds at which a launcher is asked for, the usual one first.
KNOCK_BAUDS: Final = (115200, 250000, 57600, 38400, 19200, 9600)


class Found(Struct, frozen=True):
    """One thing that might be a launcher. ``launcher`` is its own name, once it answered."""

    address: str
    what: str
    usb: str = ""  # vendor:product in hexadecimal
    stable: str = ""  # a name that stays when ports are plugged in another order
    launcher: str = ""
    trouble: str = ""


def serial_ports() -> list[Found]:
    """The serial ports of this machine, those of USB devices first."""
    by_id = _stable_names()
    found = []
    for port in list_ports.comports():
        usb = f"{port.vid:04x}:{port.pid:04x}" if port.vid is not None else ""
        stable = by_id.get(os.path.realpath(port.device), "")
        what = port.description if port.description not in (None, "n/a") else "serial port"
        found.append(Found(f"serial:{port.device}", what, usb, stable))
    return sorted(found, key=lambda each: (not each.usb, each.address))


def _stable_names() -> dict[str, str]:
    if not _BY_ID.is_dir():
        return {}
    return {os.path.realpath(link): str(link) for link in _BY_ID.iterdir()}


async def knock(port: Found) -> Found:
    """Ask whatever is on a serial port who it is: hello and who change nothing at all.

    One speed after the other, on the port once opened; the address names a speed that is not the
    usual one.
    """
    device = port.address.removeprefix("serial:")
    try:
        opened = open_port(device, KNOCK_BAUDS[0], raise_dtr=False)
    except LauncherError as error:
        return replace(port, trouble=error.diagnostic.message)
    async with SerialStream(opened) as stream, anyio.create_task_group() as tasks:
        link = Link(stream, port.address, first_sequence=0)
        tasks.start_soon(link.read)
        answer = replace(port, trouble="no launcher of this protocol answers")
        try:
            for baud in KNOCK_BAUDS:
                opened.baudrate = baud
                name = await _ask_name(link, _KNOCK_S if baud == KNOCK_BAUDS[0] else _NEXT_SPEED_S)
                if name:
                    speed = "" if baud == KNOCK_BAUDS[0] else f"@{baud}"
                    answer = replace(port, address=port.address + speed, launcher=name)
                    break
        except LauncherError as error:
            answer = replace(port, trouble=error.diagnostic.message)
        tasks.cancel_scope.cancel()
    return answer


async def _ask_name(link: Link, patience_s: float) -> str:
    """The launcher's name and serial number, or nothing."""
    with anyio.move_on_after(patience_s):
        await link.command("HELLO", VERSION, VERSION, again_s=0.3)
        reply = await link.command("WHO")
        return re.sub(r"[^ -~]", "?", " ".join(reversed(reply.arguments)))
    return ""


async def bluetooth(seconds: float) -> tuple[list[Found], str]:
    """Launchers heard in ``seconds``, or why none can be heard."""
    try:
        from feedscript_drivers.transports import ble
    except ImportError:
        return [], "Bluetooth needs the extra: pip install 'feedscript[ble]'"
    try:
        heard = await ble.scan(seconds)
    except LauncherError as error:
        return [], error.diagnostic.message
    return [
        Found(f"ble:{name or address}", f"launcher in range, {rssi} dBm", launcher=name)
        for name, address, rssi in heard
    ], ""


async def _knock_all(ports: list[Found]) -> list[Found]:
    """All ports at once, in their order."""
    answers: dict[str, Found] = {}

    async def ask(port: Found) -> None:
        answers[port.address] = await knock(port)

    async with anyio.create_task_group() as tasks:
        for port in ports:
            tasks.start_soon(ask, port)
    return [answers[port.address] for port in ports]


async def find(seconds: float, *, knocks: bool) -> tuple[list[Found], list[str]]:
    """Everything in reach, and what kept parts of the search from being made."""
    ports = serial_ports()
    if knocks:
        ports = await _knock_all(ports)
    radios, trouble = await bluetooth(seconds) if seconds > 0 else ([], "")
    return ports + radios, [trouble] if trouble else []
