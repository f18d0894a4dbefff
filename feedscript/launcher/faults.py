"""What a launcher may find wrong with itself: each fault in words, and how to look for its cause.

Kinds are spelled as on the wire, the details are its numbers (``shared/protocol.md``, section 8). A
fault that is not among them (of another make, of a later version) is told by its name alone.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Final

import msgspec

from feedscript.tongues.text import _, figure


class Told(msgspec.Struct, frozen=True):
    """A fault in words; ``look``: where its cause is looked for, and with what."""

    what: str
    look: str


def fault_words(kind: str, detail: str) -> str:
    """A fault by its name, what that means, and the number that it came with."""
    told = _told(kind, detail)
    if told is None:
        return kind if detail in ("", "0") else f"{kind} {detail}"
    return _("{kind} ({what})", kind=kind, what=told.what)


def where_to_look(kind: str, detail: str) -> str:
    """How its cause is found; empty where nothing is known of it."""
    told = _told(kind, detail)
    return told.look if told is not None else ""


def _told(kind: str, detail: str) -> Told | None:
    teller = _FAULTS.get(kind)
    number = _number(detail)
    return None if teller is None or number is None else teller(number)


def _number(detail: str) -> int | None:
    """The wire's number; 0 where there is none, None for another device's own words."""
    try:
        return int(detail or "0")
    except ValueError:
        return None


def _numbered(what: Callable[[int], str], look: str) -> Callable[[int], Told]:
    return lambda number: Told(what(number), look)


def _always(what: str, look: str) -> Callable[[int], Told]:
    return lambda _number: Told(what, look)


def _low_voltage(mv: int) -> Told:
    look = _(
        "charge the battery; then measure at its poles and at the controller while the wheels run "
        "up: where the two differ much, a contact, a fuse holder or a wire between is at fault"
    )
    if mv <= 0:
        return Told(_("the supply is too low"), look)
    return Told(_("the supply fell to {volts}", volts=figure(mv / 1000, 1, " V")), look)


def _too_hot(degrees: int) -> Told:
    look = _(
        "let it cool, guards closed; then turn the wheel by hand, power off: one that rubs or "
        "turns stiffly heats its motor, and so do gaps between balls that are too short for it"
    )
    if degrees == 0:
        return Told(_("a motor is too warm"), look)
    return Told(_("a motor is {degrees} °C warm", degrees=degrees), look)


def _ball_sensor(detail: int) -> Told:
    number, which = divmod(detail, 10)  # numbered where there are several
    if which == 1:
        return Told(
            _("ball sensor {number} is blocked", number=number)
            if number
            else _("the ball sensor is blocked"),
            _("look for a ball, a leaf or a cable before it, and wipe its two windows"),
        )
    if which == 2:
        return Told(
            _("ball sensor {number} did not see a ball that another one saw", number=number)
            if number
            else _("the wheels felt a ball that the ball sensor did not see"),
            _(
                "hold a stick before the sensor and measure its output, or see its lamp: one that "
                "does not change is dead, out of line or unplugged"
            ),
        )
    return Told(
        _("the ball sensor is blocked or dead"),
        _("look what stands before it; hold a stick before it and measure its output"),
    )


_FAULTS: Final[dict[str, Callable[[int], Told]]] = {
    "jam": _always(
        _("a ball lay on the gate, the gate opened and no ball came"),
        _(
            "power off, wheels standing: look at gate, chute and the gap between the wheels, and "
            "push a ball through by hand"
        ),
    ),
    "empty": _always(
        _("the gate opened and no ball lay on it"),
        _(
            "fill the hopper; where balls lie in it, look why none rolls to the gate, and press "
            "the switch under the ball on the gate"
        ),
    ),
    "drive-not-at-speed": _numbered(
        lambda number: _("drive {number} did not come to its speed or hold it", number=number),
        _(
            "measure the supply while the wheel runs up: one that gives way is an empty battery or "
            "a thin wire; one that holds leaves a wheel that rubs, a belt or the motor's driver"
        ),
    ),
    "low-voltage": _low_voltage,
    "over-temperature": _too_hot,
    "stray-ball": _always(
        _("a ball came that nobody had asked for"),
        _(
            "power off: see whether the gate shuts all the way and holds the second of two balls; "
            "keep hands and leaves away from the ball sensor"
        ),
    ),
    "drive-over-ceiling": _numbered(
        lambda number: _("drive {number} ran faster than it was allowed", number=number),
        _(
            "hold its speed against a hand-held tachometer: where they differ, the pulses a turn "
            "or the sensor's wire are wrong; where they agree, the motor's driver does not obey"
        ),
    ),
    "sensor": _ball_sensor,
    "limits-spoiled": _always(
        _("its stored limits fail their check"),
        _(
            "set it up again at its cable; where it happens again, measure the controller's supply "
            "while it stores"
        ),
    ),
    "drive-silent": _numbered(
        lambda number: _(
            "drive {number} is driven, and its sensor tells of no turn", number=number
        ),
        _(
            "motors' power off: turn the wheel by hand and read `status` in `feedscript jog`; a "
            "speed there means that the wheel was stuck or its motor had no power, none means the "
            "sensor, its disc or its wire"
        ),
    ),
    "drive-lost-speed": _numbered(
        lambda number: _("drive {number} lost the speed that it had", number=number),
        _(
            "power off: turn the wheel by hand and see that the motor turns with it (a belt that "
            "slips or broke, a loose wheel, a lead that came off); then measure the supply while "
            "it runs"
        ),
    ),
    "axis-not-homed": _numbered(
        lambda number: _(
            "axis {number} (1 pans, 2 tilts) did not find its home sensor", number=number
        ),
        _(
            "motors' power off: cover the sensor with a card and see its lamp or output change; "
            "then see that the axis runs freely and that it first turned towards the sensor: if "
            "not, two wires of one coil are exchanged"
        ),
    ),
    "axis-lost-steps": _numbered(
        lambda number: _(
            "axis {number} (1 pans, 2 tilts) does not stand where its steps should have brought it",
            number=number,
        ),
        _(
            "motors' power off: move the axis by hand over its whole travel; one that rubs, a "
            "cable that pulls, a loose pulley, or too much rate and acceleration for the motor"
        ),
    ),
    "reset": _always(
        _("the controller was reset"),
        _("look for what opened its port again, a reset button, and a loose USB plug"),
    ),
    "brown-out": _always(
        _("the controller's own supply dipped"),
        _(
            "measure the controller's 5 or 3.3 V with a meter that keeps the least, or an "
            "oscilloscope, while the wheels run up: its converter, its fuse and its ground wire"
        ),
    ),
    "watchdog": _always(
        _("the controller's program hung and its hardware watchdog restarted it"),
        _("keep what `feedscript bundle` writes and report it"),
    ),
}
#: Every kind that is known here.
KINDS: Final = frozenset(_FAULTS)
