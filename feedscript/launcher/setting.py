"""What a launcher is set to before a ball leaves: its drives and where it points."""

from __future__ import annotations

import msgspec


class Setting(msgspec.Struct, frozen=True, kw_only=True):
    """One position of a launcher, in the terms of its own hardware.

    ``drives`` holds the powered parts in the order the profile's kind names them (two wheels: top
    and bottom wheel in rpm). ``pan_deg`` turns to the right as the launcher looks at the receiver,
    ``tilt_deg`` up, ``roll_deg`` clockwise as seen from behind the launcher.
    """

    drives: tuple[float, ...]
    pan_deg: float
    tilt_deg: float
    roll_deg: float = 0.0
