"""How far two records of one ball may be apart, field by field, and reading it from a file.

# what is not written keeps its usual value
gap_s = 0.02
landing_sigmas = 0     # landings must agree to landing_m, whatever the scatter
player = false         # whose ball it was is not compared
"""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import msgspec

from feedscript.diagnostics import Page
from feedscript.toml_file import TomlReading, read_toml

BAD_TOLERANCES = Page(
    slug="bad-tolerances",
    title="A file of tolerances that cannot be used",
    why=(
        "A comparison is only as good as what it lets pass, so a word in this file that is not "
        "known is an error and is never passed over. Each key is a field and how far it may be "
        "off; what is not written keeps its usual value."
    ),
)

Least = Annotated[float, msgspec.Meta(ge=0.0, le=1e6)]


class Tolerances(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """The most that two records may be apart. Usual values are design values, no source.

    Landings may be apart by ``landing_m``, and beyond it by so many sigmas of the scatter of
    those that were not merely meant: at 4.5 sigmas one ball of 25,000 is (Rayleigh's distribution).
    """

    drive: Least = 1.0  # rpm, or per cent where a drive is a level
    angle_deg: Least = 0.02  # of each way in which the head turns
    gap_s: Least = 0.05  # after the ball before
    landing_m: Least = 0.10  # of where it lands, whatever the scatter
    landing_sigmas: Least = 4.5  # of where it lands beside that: so often the scatter
    speed_mps: Least = 2.5  # of the ball at the mouth
    flight_s: Least = 0.25  # from the mouth to the bounce
    feed: bool = True  # whether it must be the same feed
    player: bool = True  # whether it must be the same player's
    outcome: bool = True  # whether it must have become the same
    said: bool = True  # whether the calls must be the same
    ending: bool = True  # whether the lesson must end alike


USUAL = Tolerances()
#: For figures that were worked out, not measured: as far as a plan's decimals.
EXACT = Tolerances(
    drive=0.0,
    angle_deg=0.0,
    gap_s=0.0,
    landing_m=0.0,
    landing_sigmas=0.0,
    speed_mps=0.0,
    flight_s=0.0,
)


def read_tolerances(path: Path) -> TomlReading[Tolerances]:
    """The file's. Never raises for what a file may hold."""
    return read_toml(path, Tolerances, BAD_TOLERANCES)
