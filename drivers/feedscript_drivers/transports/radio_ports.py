"""Which serial ports have a radio behind them, so that they are no cable."""

from __future__ import annotations

import os
import sys
from collections.abc import Callable, Iterable
from typing import Any, Final

from serial.tools import list_ports

_ON_LINUX: Final = "/dev/rfcomm"
#: macOS' names of serial ports that are no pseudo-terminal.
_ON_MACOS: Final = ("/dev/cu.", "/dev/tty.")
#: How Windows calls what its Bluetooth has enumerated (Microsoft, "Bluetooth device identification
#: strings", from memory).
_ON_WINDOWS: Final = "BTHENUM"


def is_radio(
    device: str,
    system: str = sys.platform,
    ports: Callable[[], Iterable[Any]] = list_ports.comports,
) -> bool:
    """Whether this port (``/dev/rfcomm0``, ``COM7``) is one over Bluetooth, as far as its system
    tells. On macOS nothing tells, so a port that is not of USB is taken for one: no Mac has had
    another for decades (common knowledge, no source)."""
    if system == "win32":
        found = (port for port in ports() if port.device.upper() == device.upper())
        return any(port.hwid.upper().startswith(_ON_WINDOWS) for port in found)
    if system == "darwin":
        wired = {_call_out(port.device) for port in ports() if port.vid is not None}
        return device.startswith(_ON_MACOS) and _call_out(device) not in wired
    return os.path.realpath(device).startswith(_ON_LINUX)


def _call_out(device: str) -> str:
    """The same port by the name under which it is called out from."""
    return device.replace("/dev/tty.", "/dev/cu.", 1)
