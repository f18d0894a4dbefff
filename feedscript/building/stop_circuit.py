"""The emergency stop as a circuit: its parts, and between which points each stands.

The button's first contact opens the coil of the contactor in copper; no program is asked (stop
category 0 of IEC 60204-1). Its second contact tells the program. Both contacts are closed while the
button is not pressed, so that a broken wire stops the launcher.
"""

from __future__ import annotations

from enum import StrEnum

import msgspec


class Point(StrEnum):
    """What is joined by wire, and so one point of the circuit."""

    PLUS = "battery plus"
    FUSED = "after the battery's fuse"
    MAIN = "after the main switch"
    POWER = "after the contactor"
    MOTOR_1 = "supply of the driver of wheel 1"
    MOTOR_2 = "supply of the driver of wheel 2"
    CONTROL = "after the control fuse"
    BUTTON = "after the button's first contact"
    COIL = "between coil and transistor"
    LOOP = "the controller's input"
    MINUS = "battery minus"


class Part(msgspec.Struct, frozen=True):
    """A part between two points."""

    name: str
    what: str
    one: Point
    other: Point


#: Everything that current can pass through, in the order of its way.
PARTS: tuple[Part, ...] = (
    Part("B1", "battery", Point.PLUS, Point.MINUS),
    Part("F1", "battery's fuse", Point.PLUS, Point.FUSED),
    Part("Q1", "main switch, lockable", Point.FUSED, Point.MAIN),
    Part("K1", "contactor's contact", Point.MAIN, Point.POWER),
    Part("C1", "bulk capacitor", Point.POWER, Point.MINUS),
    Part("F2", "fuse of wheel 1", Point.POWER, Point.MOTOR_1),
    Part("M1", "driver and motor 1", Point.MOTOR_1, Point.MINUS),
    Part("F3", "fuse of wheel 2", Point.POWER, Point.MOTOR_2),
    Part("M2", "driver and motor 2", Point.MOTOR_2, Point.MINUS),
    Part("F4", "control fuse, 1 A", Point.MAIN, Point.CONTROL),
    Part("S1.1", "stop button, contact 1", Point.CONTROL, Point.BUTTON),
    Part("K1.coil", "contactor's coil", Point.BUTTON, Point.COIL),
    Part("V1", "diode", Point.COIL, Point.BUTTON),
    Part("T1", "transistor", Point.COIL, Point.MINUS),
    Part("S1.2", "stop button, contact 2", Point.LOOP, Point.MINUS),
)
