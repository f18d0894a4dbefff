"""Six invented devices, each its own far end; their mappings are written from the page of keys.

The far ends share nothing with the driver; what they have in common is the hardware of
``feedscript_simulator.mapped_devices``, parts that take their time and the truth about every ball.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Protocol

from feedscript_simulator.mapped_devices import Hardware

from tests.drivers.mapped.devices.asked_only import AskedOnly
from tests.drivers.mapped.devices.attic_lines import AtticLines
from tests.drivers.mapped.devices.by_radio import ByRadio
from tests.drivers.mapped.devices.crc_frames import CrcFrames
from tests.drivers.mapped.devices.numbered import Numbered
from tests.drivers.mapped.devices.steps_only import StepsOnly


class FarEnd(Protocol):
    """What a device does with what it is told, and what it says by itself; one answer each."""

    hardware: Hardware

    def hear(self, data: bytes, now_s: float) -> list[bytes]: ...

    def tick(self, now_s: float) -> list[bytes]: ...


FOREIGN: dict[str, Callable[[], FarEnd]] = {
    "attic-lines": AtticLines,
    "crc-frames": CrcFrames,
    "asked-only": AskedOnly,
    "numbered": Numbered,
    "by-radio": ByRadio,
    "steps-only": StepsOnly,
}
