"""How a bridge hangs on the controller's serial line: its parts, and between which points.

For a controller of 5 V. One of 3.3 V needs no resistors: a wire in place of R1, R2 left out.
"""

from __future__ import annotations

from enum import StrEnum

import msgspec


class Point(StrEnum):
    """What is joined by wire."""

    OUT = "the controller's serial output"
    IN = "the controller's serial input"
    JUMPER = "the controller's setup input"
    MODULE_IN = "the module's serial input"
    GROUND = "ground"


class Part(msgspec.Struct, frozen=True):
    """A part between two points; ``ohm`` of a resistor."""

    name: str
    what: str
    one: Point
    other: Point
    ohm: float = 0.0


PARTS: tuple[Part, ...] = (
    Part("R1", "10 kΩ", Point.OUT, Point.MODULE_IN, 10e3),
    Part("R2", "20 kΩ", Point.MODULE_IN, Point.GROUND, 20e3),
    Part("J1", "setup jumper", Point.JUMPER, Point.GROUND),
)
