"""Which lines of a launcher a host believes, by the kind of the link."""

from __future__ import annotations

from enum import Enum


class Trust(Enum):
    """What an opening asks of the link's lines."""

    KEYED = "keyed"  # a radio, a network: under the launcher's key, or not at all
    CABLE = "cable"  # a wire that a person plugged in: under a kept key that fits, else plain
    PLAIN = "plain"  # no kept key: pairing, a launcher of this process, a loopback's stand-in
