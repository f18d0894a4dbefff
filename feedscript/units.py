"""Physical units: what may be written after a number, and what it means in SI.

Every quantity inside the project is a plain float in the unit that its name carries
(``speed_mps``, ``spin_rpm``, ``angle_deg``, ``temperature_c``); this module is the one place
where a written unit becomes that float. Factors are exact by definition (BIPM SI Brochure, 9th
ed., 2019; NIST SP 811, 2008, appendix B).
"""

from __future__ import annotations

import math
import re
from enum import StrEnum

import msgspec


class Dimension(StrEnum):
    """What kind of thing a number measures; the value is the word a message uses."""

    COUNT = "count"
    RATIO = "share"
    LENGTH = "length"
    SPEED = "speed"
    SPIN = "spin"
    TIME = "time"
    ANGLE = "angle"
    TEMPERATURE = "temperature"
    PRESSURE = "pressure"
    MASS = "mass"


#: The unit in which the project keeps each dimension, as a message prints it.
INTERNAL_UNIT: dict[Dimension, str] = {
    Dimension.COUNT: "",
    Dimension.RATIO: "",
    Dimension.LENGTH: "m",
    Dimension.SPEED: "m/s",
    Dimension.SPIN: "rpm",
    Dimension.TIME: "s",
    Dimension.ANGLE: "degrees",
    Dimension.TEMPERATURE: "C",
    Dimension.PRESSURE: "hPa",
    Dimension.MASS: "g",
}


class Unit(msgspec.Struct, frozen=True):
    """One written unit: ``value_in_internal_unit = number * factor + offset``."""

    word: str
    dimension: Dimension
    factor: float
    offset: float = 0.0


def _unit_table() -> dict[str, Unit]:
    d = Dimension
    rows: list[tuple[Dimension, float, float, tuple[str, ...]]] = [
        (d.LENGTH, 1.0, 0.0, ("m", "metre", "metres", "meter", "meters")),
        (d.LENGTH, 0.01, 0.0, ("cm", "centimetre", "centimetres", "centimeter", "centimeters")),
        (d.LENGTH, 0.001, 0.0, ("mm",)),
        (d.LENGTH, 1000.0, 0.0, ("km",)),
        (d.LENGTH, 0.3048, 0.0, ("ft", "foot", "feet")),
        (d.LENGTH, 0.0254, 0.0, ("in", "inch", "inches")),
        (d.LENGTH, 0.9144, 0.0, ("yd", "yard", "yards")),
        (d.SPEED, 1.0, 0.0, ("m/s",)),
        (d.SPEED, 1 / 3.6, 0.0, ("km/h", "kph", "kmh")),
        (d.SPEED, 0.44704, 0.0, ("mph",)),
        (d.SPIN, 1.0, 0.0, ("rpm",)),
        (d.SPIN, 60.0, 0.0, ("rev/s", "rps")),
        (d.TIME, 1.0, 0.0, ("s", "sec", "second", "seconds")),
        (d.TIME, 0.001, 0.0, ("ms",)),
        (d.TIME, 60.0, 0.0, ("min", "minute", "minutes")),
        (d.TIME, 3600.0, 0.0, ("h", "hour", "hours")),
        (d.ANGLE, 1.0, 0.0, ("deg", "degree", "degrees", "°")),
        (d.TEMPERATURE, 1.0, 0.0, ("C", "°C")),
        (d.TEMPERATURE, 5 / 9, -160 / 9, ("F", "°F")),
        (d.TEMPERATURE, 1.0, -273.15, ("K",)),
        (d.PRESSURE, 1.0, 0.0, ("hPa", "mbar")),
        (d.PRESSURE, 10.0, 0.0, ("kPa",)),
        (d.PRESSURE, 0.01, 0.0, ("Pa",)),
        (d.MASS, 1.0, 0.0, ("g",)),
        (d.MASS, 1000.0, 0.0, ("kg",)),
        (d.RATIO, 0.01, 0.0, ("%",)),
    ]
    return {
        word: Unit(word, dimension, factor, offset)
        for dimension, factor, offset, words in rows
        for word in words
    }


#: Every unit that may be written, by its spelling. ``in`` is the inch.
UNITS: dict[str, Unit] = _unit_table()


def units_of(dimension: Dimension) -> tuple[str, ...]:
    """The spellings that measure one dimension, the internal unit first."""
    return tuple(word for word, unit in UNITS.items() if unit.dimension is dimension)


class Quantity(msgspec.Struct, frozen=True):
    """A value in the internal unit of its dimension."""

    value: float
    dimension: Dimension

    def __str__(self) -> str:
        return f"{self.value:g} {INTERNAL_UNIT[self.dimension]}".rstrip()


def quantity(number: float, unit: str) -> Quantity:
    """The quantity that ``number`` of ``unit`` is; KeyError for a unit nobody knows."""
    found = UNITS[unit]
    return Quantity(number * found.factor + found.offset, found.dimension)


_WRITTEN = re.compile(r"\s*([+-]?(?:\d+(?:\.\d*)?|\.\d+)(?:[eE][+-]?\d+)?)\s*(\S*)\s*")


class UnitError(ValueError):
    """A written quantity that does not say what it must; the text is fit for a person."""


def parse_quantity(text: str, dimension: Dimension) -> float:
    """Read ``"28 m/s"`` as a float in the internal unit of ``dimension``.

    Raises UnitError, with the cause and the units that would do, for anything else.
    """
    match = _WRITTEN.fullmatch(text)
    wanted = ", ".join(units_of(dimension)[:4])
    if match is None:
        with_point = text.strip().replace(",", ".", 1)
        if _WRITTEN.fullmatch(with_point):
            raise UnitError(
                f"{text.strip()!r} has a comma; write `{with_point}` if a point is meant"
            )
        raise UnitError(f"{text!r} is not a number with a unit; write it with one of: {wanted}")
    number, word = match.groups()
    unit = UNITS.get(word)
    if unit is None and dimension is Dimension.COUNT and not word:
        return float(number)
    if unit is None:
        what = f"{word!r} is not a known unit" if word else f"{text.strip()!r} has no unit"
        raise UnitError(f"{what}; write a {dimension} with one of: {wanted}")
    if unit.dimension is not dimension:
        raise UnitError(
            f"{text.strip()!r} is a {unit.dimension} where a {dimension} belongs; "
            f"write it with one of: {wanted}"
        )
    return quantity(float(number), word).value


def spoken_time(seconds: float) -> str:
    """A time as a person says it: ``45 s``, ``3 min``, ``1 min 30 s``."""
    minutes, rest = divmod(round(seconds), 60)
    words = [f"{minutes} min"] if minutes else []
    return " ".join([*words, f"{rest} s"] if rest or not words else words)


#: Digits after the point beyond which two figures are the same to everybody.
_MOST_DIGITS = 9


def apart(found: float, asked: float, digits: int) -> tuple[str, str]:
    """Both figures with so many digits, or with as many more as it takes to tell them apart."""
    if math.isfinite(found) and math.isfinite(asked) and found != asked:
        while digits < _MOST_DIGITS and _same(found, asked, digits):
            digits += 1
    return f"{found:.{digits}f}", f"{asked:.{digits}f}"


def _same(one: float, other: float, digits: int) -> bool:
    return float(f"{one:.{digits}f}") == float(f"{other:.{digits}f}")
