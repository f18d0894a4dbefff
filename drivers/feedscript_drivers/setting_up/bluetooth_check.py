"""What keeps this machine from Bluetooth, and the one command that fixes it."""

from __future__ import annotations

import shutil
import sys
from pathlib import Path
from typing import Any, Final

import anyio
from msgspec import Struct

from feedscript_drivers.setting_up.machine_finding import Finding

_SERVICE: Final = "Bluetooth service"
_ADAPTER: Final = "Bluetooth adapter"
_NAME: Final = "org.bluez"
_DAEMONS: Final = ("/usr/libexec/bluetooth/bluetoothd", "/usr/lib/bluetooth/bluetoothd")
_PATIENCE_S: Final = 3.0


def look_at_bluetooth() -> list[Finding]:
    """The library and, on Linux, the service and its adapter."""
    try:
        import bleak
    except ImportError:
        fix = "pip install 'feedscript[ble]'"
        return [Finding("Bluetooth library", False, "is not installed", fix)]
    library = Finding("Bluetooth library", True, f"{bleak.__name__} is installed")
    if not sys.platform.startswith("linux"):
        return [library]
    return [library, *_judge(anyio.run(_ask_service))]


class Answer(Struct, frozen=True):
    """What the system bus says: whether it is there, the service runs, and its adapters' power."""

    bus: bool = False
    denied: bool = False
    runs: bool = False
    adapters: tuple[tuple[str, bool], ...] = ()


async def _ask_service() -> Answer:
    """Ask as bleak would; whatever goes wrong is an answer too."""
    from dbus_fast import BusType, DBusError
    from dbus_fast.aio import MessageBus

    try:
        with anyio.fail_after(_PATIENCE_S):
            bus = await MessageBus(bus_type=BusType.SYSTEM).connect()
            try:
                return await _ask(bus)
            finally:
                bus.disconnect()
    except PermissionError:
        return Answer(bus=True, denied=True)
    except (OSError, EOFError, TimeoutError, DBusError):
        return Answer()


async def _ask(bus: Any) -> Answer:
    from dbus_fast import Message, MessageType

    service = "org.freedesktop.DBus"
    asked = Message(
        destination=service, path="/org/freedesktop/DBus", interface=service,
        member="NameHasOwner", signature="s", body=[_NAME],
    )  # fmt: skip
    reply = await bus.call(asked)
    if reply.message_type is MessageType.ERROR or not reply.body[0]:
        return Answer(bus=True)
    listing = Message(
        destination=_NAME, path="/", interface=f"{service}.ObjectManager",
        member="GetManagedObjects",
    )  # fmt: skip
    reply = await bus.call(listing)
    if reply.message_type is MessageType.ERROR:
        return Answer(bus=True, runs=True, denied="AccessDenied" in (reply.error_name or ""))
    adapters = [
        (path.rpartition("/")[2], bool(interfaces[f"{_NAME}.Adapter1"]["Powered"].value))
        for path, interfaces in reply.body[0].items()
        if f"{_NAME}.Adapter1" in interfaces
    ]
    return Answer(bus=True, runs=True, adapters=tuple(adapters))


def _judge(answer: Answer) -> list[Finding]:
    if not answer.bus:
        fix = "sudo systemctl start dbus"
        return [_adapter(), Finding(_SERVICE, False, "the system bus is not there", fix)]
    if answer.denied:
        fix = "sudo usermod -aG bluetooth $USER  # then log out and in again"
        return [_adapter(), Finding(_SERVICE, False, "this user may not ask it", fix)]
    if not answer.runs:
        return [_adapter(), _not_running()]
    runs = Finding(_SERVICE, True, "runs")
    if not answer.adapters:
        return [_adapter(known=False), runs]
    if not any(powered for _, powered in answer.adapters):
        return [Finding(_ADAPTER, False, "is switched off", _UNBLOCK), runs]
    names = ", ".join(name for name, powered in answer.adapters if powered)
    return [Finding(_ADAPTER, True, names), runs]


_UNBLOCK: Final = "rfkill unblock bluetooth && bluetoothctl power on"


def _not_running() -> Finding:
    if shutil.which("bluetoothd") or any(Path(place).exists() for place in _DAEMONS):
        fix = "sudo systemctl enable --now bluetooth"
        return Finding(_SERVICE, False, "does not run", fix)
    package = "sudo apt-get install bluez" if shutil.which("apt-get") else "install bluez"
    return Finding(_SERVICE, False, "is not installed", package)


def _adapter(*, known: bool = True) -> Finding:
    """What the kernel knows of adapters; ``known`` False: the service says there is none."""
    adapters = sorted(path.name for path in Path("/sys/class/bluetooth").glob("hci*"))
    if not adapters:
        return Finding(_ADAPTER, False, "there is none", "plug in a Bluetooth adapter, if needed")
    if _blocked():
        return Finding(_ADAPTER, False, "is blocked", _UNBLOCK)
    if not known:
        fix = "sudo systemctl restart bluetooth"
        return Finding(_ADAPTER, False, f"{adapters[0]} is not known to the service", fix)
    return Finding(_ADAPTER, True, ", ".join(adapters))


def _blocked() -> bool:
    """Whether a switch, of the case or of the software, keeps Bluetooth off."""
    for path in Path("/sys/class/rfkill").glob("rfkill*"):
        try:
            kind = (path / "type").read_text().strip()
            switches = (path / "soft").read_text() + (path / "hard").read_text()
        except OSError:
            continue
        if kind == "bluetooth" and "1" in switches:
            return True
    return False
