"""In which units figures are told to a person; plans, JSON and tables keep to SI.

What a message says to write stays in the units that programs are usually written in. The choice is
made once, where a command begins, and holds for its whole process.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import msgspec

from feedscript.units import UNITS

if TYPE_CHECKING:
    from collections.abc import Iterable


class ToldUnits(msgspec.Struct, frozen=True):
    """The words of a unit for speeds and of one for lengths, as :data:`feedscript.units.UNITS`
    knows them."""

    speed: str
    length: str


METRIC = ToldUnits("km/h", "m")
#: What may be asked for.
SYSTEMS = {"metric": METRIC, "imperial": ToldUnits("mph", "ft")}

_told = METRIC


def tell_in(units: ToldUnits) -> None:
    """From here on, everybody in this process is told figures so."""
    global _told  # noqa: PLW0603: one person sits before a process
    _told = units


def told_units() -> ToldUnits:
    """The units of this process."""
    return _told


def system_told() -> str:
    """What they are called together."""
    return next(name for name, units in SYSTEMS.items() if units == _told)


def speed_told(speed_mps: float) -> float:
    """The number of a speed in the unit it is told in."""
    return speed_mps / UNITS[_told.speed].factor


def length_told(length_m: float) -> float:
    """The number of a length in the unit it is told in."""
    return length_m / UNITS[_told.length].factor


def ball_words(count: object) -> str:
    """So many balls, a whole number."""
    return "1 ball" if count == 1 else f"{count} balls"


def speed_words(speed_mps: float, digits: int = 0) -> str:
    """Such as ``70 km/h``."""
    return f"{speed_told(speed_mps):.{digits}f} {_told.speed}"


def length_words(length_m: float, digits: int = 2) -> str:
    """Such as ``0.84 m``. A foot is a third of a metre: it takes one decimal less."""
    return f"{length_told(length_m):.{length_digits(digits)}f} {_told.length}"


def length_digits(digits_of_metres: int) -> int:
    """How many decimals tell as much as so many of metres."""
    return digits_of_metres if _told.length == "m" else max(digits_of_metres - 1, 0)


def place_words(metres: Iterable[float]) -> tuple[str, ...]:
    """Numbers of a place on the court, without their unit."""
    return tuple(f"{length_told(one):.{length_digits(2)}f}" for one in metres)
