"""What keeps this machine from reaching a launcher, and the one command that fixes it."""

from __future__ import annotations

import os
import shutil
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Final

from feedscript_drivers.setting_up.bluetooth_check import look_at_bluetooth
from feedscript_drivers.setting_up.finding import Found, serial_ports
from feedscript_drivers.setting_up.machine_finding import Finding
from feedscript_drivers.transports.serial_port import denied_help

_PLUG_IN: Final = "plug the launcher in with a cable that carries data, not only power"


def look() -> list[Finding]:
    """Every look, whatever the others found."""
    return [*_ports(), *_brltty(), *look_at_bluetooth()]


def _ports() -> list[Finding]:
    ports = serial_ports()
    if not ports:
        return [Finding("serial ports", False, "there is none", _PLUG_IN)]
    found = [_port(port) for port in ports]
    if not any(port.usb for port in ports):
        found.append(Finding("USB serial ports", False, "there is none", _PLUG_IN))
    return found


def _port(port: Found) -> Finding:
    device = port.address.removeprefix("serial:")
    what = port.what if port.usb else f"{port.what}, built in"
    if sys.platform == "win32":
        return Finding(device, True, what)
    if not os.access(device, os.R_OK | os.W_OK):
        return Finding(device, False, f"{what}; this user may not open it", denied_help())
    for process, name in holders(device):
        seen = f"{what}; {name} (process {process}) has it open"
        return Finding(device, False, seen, f"kill {process}  # ends {name}")
    return Finding(device, True, f"{what}; this user may open it")


def holders(device: str) -> Iterator[tuple[int, str]]:
    """Other programs that have a device open, as far as this user may see (Linux only)."""
    real = os.path.realpath(device)
    for folder in Path("/proc").glob("[0-9]*"):
        if int(folder.name) == os.getpid():
            continue
        try:
            if any(os.path.realpath(each) == real for each in (folder / "fd").iterdir()):
                yield int(folder.name), (folder / "comm").read_text(encoding="utf-8").strip()
        except OSError:
            continue  # another user's, or gone already


def _brltty() -> list[Finding]:
    """A braille service takes some USB serial chips for its own (Debian bug reports since 2011)."""
    if not sys.platform.startswith("linux") or shutil.which("brltty") is None:
        return []
    fix = "sudo systemctl mask brltty.path brltty-udev.service  # unless a braille display is used"
    return [Finding("brltty", False, "is installed, and may take USB serial ports away", fix)]
