"""What keeps this machine from reaching a launcher, and the one command that mends it."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from dataclasses import dataclass
from pathlib import Path

from feedscript_drivers.finding import serial_ports
from feedscript_drivers.serial_port import denied_help

_BUS = "unix:path=/run/dbus/system_bus_socket"


@dataclass(frozen=True, slots=True)
class Finding:
    """One look at this machine: what was looked at, what was seen, what mends it."""

    what: str
    fine: bool
    seen: str
    mend: str = ""


def look() -> list[Finding]:
    """Every look, whatever the others found."""
    return [*_ports(), *_brltty(), _bleak(), *_linux_bluetooth()]


def _ports() -> list[Finding]:
    ports = serial_ports()
    if not ports:
        return [
            Finding(
                "serial ports",
                False,
                "there is none",
                "plug the launcher in with a cable that carries data, not only power",
            )
        ]
    return [_port(port.address.removeprefix("serial:"), port.what) for port in ports]


def _port(device: str, what: str) -> Finding:
    if sys.platform == "win32" or os.access(device, os.R_OK | os.W_OK):
        return Finding(device, True, f"{what}; this user may open it")
    return Finding(device, False, f"{what}; this user may not open it", denied_help())


def _brltty() -> list[Finding]:
    """A braille service takes some USB serial chips for its own (Debian bug reports since 2011)."""
    if not sys.platform.startswith("linux") or shutil.which("brltty") is None:
        return []
    mend = "sudo systemctl mask brltty.path brltty-udev.service  # unless a braille display is used"
    return [Finding("brltty", False, "is installed, and may take USB serial ports away", mend)]


def _bleak() -> Finding:
    try:
        import bleak
    except ImportError:
        return Finding(
            "Bluetooth library", False, "is not installed", "pip install 'feedscript[ble]'"
        )
    return Finding("Bluetooth library", True, f"{bleak.__name__} is installed")


def _linux_bluetooth() -> list[Finding]:
    if not sys.platform.startswith("linux"):
        return []
    return [_adapter(), _service()]


def _adapter() -> Finding:
    adapters = sorted(path.name for path in Path("/sys/class/bluetooth").glob("hci*"))
    if not adapters:
        return Finding(
            "Bluetooth adapter", False, "there is none", "plug in a Bluetooth adapter, if needed"
        )
    for path in Path("/sys/class/rfkill").glob("rfkill*"):
        try:
            kind = (path / "type").read_text().strip()
            blocked = "1" in ((path / "soft").read_text() + (path / "hard").read_text())
        except OSError:
            continue
        if kind == "bluetooth" and blocked:
            return Finding("Bluetooth adapter", False, "is blocked", "rfkill unblock bluetooth")
    return Finding("Bluetooth adapter", True, ", ".join(adapters))


def _service() -> Finding:
    address = os.environ.get("DBUS_SYSTEM_BUS_ADDRESS", _BUS)
    socket = address.partition("path=")[2].partition(",")[0]
    name = "Bluetooth service"
    if not Path(socket).exists():
        return Finding(name, False, "the system bus is not there", "sudo systemctl start dbus")
    systemctl = shutil.which("systemctl")
    if systemctl is None:
        return Finding(name, True, "the system bus is there; whether the service runs is not known")
    done = subprocess.run(
        [systemctl, "is-active", "bluetooth"], capture_output=True, text=True, check=False
    )
    if done.stdout.strip() == "active":
        return Finding(name, True, "runs")
    return Finding(name, False, "does not run", "sudo systemctl enable --now bluetooth")
