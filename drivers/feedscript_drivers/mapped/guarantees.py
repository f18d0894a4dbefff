"""What a device that is described by a mapping does not promise.

Derived from the mapping alone; the names are those of ``shared/guarantees.json``.
"""

from __future__ import annotations

from feedscript.launcher.guarantees import in_order
from feedscript_drivers.mapped.description.keys import Mapping

#: Whatever its mapping says: nobody arms it, and the host keeps times and numbers.
ALWAYS = ("person-arms", "leaving-time", "feed-id-in-device", "latched-emergency-stop")


def lost(mapping: Mapping) -> tuple[str, ...]:
    """The guarantees that the device does not keep."""
    lacking = {
        "watchdog": mapping.device.watchdog_s is None,
        "ball-told": not mapping.replies.ball,
        "stops": not mapping.commands.stop,
        "keyed-link": mapping.gatt is not None,
        # A radio's packets have a check of their own (Bluetooth Core, vol 6 part B, 3.1.1).
        "spoilt-noticed": mapping.frame.check is None and mapping.gatt is None,
    }
    return in_order([*ALWAYS, *(name for name, lacks in lacking.items() if lacks)])
