"""The emergency stop's circuit as a picture: every part between its points, every wire drawn.

PLACES and WIRES are the layout; what is joined must be what ``building.stop_circuit`` says.
"""

from __future__ import annotations

from collections.abc import Sequence
from textwrap import wrap

from feedscript.building.drawings.circuit import box, contact, joints, part, wire
from feedscript.building.drawings.dimension import CUT, note, sheet
from feedscript.building.stop_circuit import PARTS, Part
from feedscript.review.drawing.palette import COLOURS, INK, PAPER, SOFT_INK
from feedscript.review.drawing.svg import (
    Element,
    Point,
    Value,
    circle,
    element,
    group,
    line,
    polygon,
    polyline,
    rectangle,
)

_WIDTH, _HEIGHT = 1120.0, 570.0
_TOP, _BOTTOM = 100.0, 540.0
_NAMED_LEFT = ("K1", "C1")
_LETTERS = 12  # of a name in a line: columns stand close
_STOP, _POWER = COLOURS[1], COLOURS[0]

#: The ends of each part, in the order of its points.
PLACES: dict[str, tuple[Point, Point]] = {
    "B1": ((70, 260), (70, 340)),
    "F1": ((100, _TOP), (160, _TOP)),
    "Q1": ((210, _TOP), (270, _TOP)),
    "K1": ((350, 150), (350, 210)),
    "C1": ((350, 280), (350, 350)),
    "F2": ((450, 270), (450, 320)),
    "M1": ((450, 370), (450, 450)),
    "F3": ((570, 270), (570, 320)),
    "M2": ((570, 370), (570, 450)),
    "F4": ((730, 130), (730, 180)),
    "S1.1": ((730, 220), (730, 280)),
    "K1.coil": ((730, 330), (730, 390)),
    "V1": ((850, 390), (850, 330)),
    "T1": ((730, 440), (730, 500)),
    "S1.2": ((1000, 400), (1000, 460)),
}
#: The wires; where one ends on another, that one has a corner there.
WIRES: tuple[tuple[Point, ...], ...] = (
    ((70, 260), (70, _TOP), (100, _TOP)),
    ((160, _TOP), (210, _TOP)),
    ((270, _TOP), (350, _TOP)),
    ((350, _TOP), (730, _TOP), (730, 130)),
    ((350, _TOP), (350, 150)),
    ((350, 210), (350, 240), (350, 280)),
    ((350, 240), (450, 240), (570, 240), (570, 270)),
    ((450, 240), (450, 270)),
    ((450, 320), (450, 370)),
    ((570, 320), (570, 370)),
    ((730, 180), (730, 220)),
    ((730, 280), (730, 310), (730, 330)),
    ((730, 310), (850, 310), (850, 330)),
    ((730, 390), (730, 415), (730, 440)),
    ((730, 415), (850, 415), (850, 390)),
    ((1000, 400), (1000, 340)),
    ((70, 340), (70, _BOTTOM), (350, _BOTTOM), (450, _BOTTOM), (570, _BOTTOM)),
    ((570, _BOTTOM), (730, _BOTTOM), (1000, _BOTTOM), (1000, 460)),
    ((350, 350), (350, _BOTTOM)),
    ((450, 450), (450, _BOTTOM)),
    ((570, 450), (570, _BOTTOM)),
    ((730, 500), (730, _BOTTOM)),
)  # fmt: skip


#: Where wires of the coil and of the input end: no motor's current runs there.
_THIN: frozenset[Point] = frozenset(
    end for name in ("F4", "S1.1", "K1.coil", "V1", "T1", "S1.2") for end in PLACES[name]
)


def stop_circuit_sheet() -> str:
    """The drawing as SVG."""
    notes = [
        "S1: one red mushroom button on yellow, latching, two contacts that are forced open; a "
        "broken wire in either branch stops the launcher.",
        "T1 is driven by PD7 (ATmega328P) or GP14 (RP2040), pulled down by 10 kΩ at its gate; the "
        "input is PC0 or GP16, with the controller's pull-up.",
        "C1 has 1 kΩ across it. K1 breaks direct current; its diode lets it open some 10 ms later. "
        "The controller has its own supply, so that it can tell why everything stopped.",
        "Nothing bridges S1.1, T1 or K1. This page claims no conformity: have it looked at.",
    ]
    drawn = [*map(_wire, WIRES), *joints(WIRES), *map(_part, PARTS), *_links()]
    return sheet(_WIDTH, _HEIGHT, "Emergency stop: the coil's circuit in copper", notes, drawn)


def _wire(points: Sequence[Point]) -> Element:
    is_power = not {points[0], points[-1]} & _THIN
    return wire(points, colour=_POWER, width=3.4) if is_power else wire(points)


def _part(each: Part) -> Element:
    ends = PLACES[each.name]
    return part(each.name, each.what, ends, [_body(each, *ends), _name(each, *ends)])


def _name(each: Part, one: Point, other: Point) -> Element:
    shown = f"{each.name.replace('.coil', '')}  {each.what}"
    if one[1] == other[1]:
        first, second = note((one[0] - 12, one[1] + 30), each.name), note(
            (one[0] - 12, one[1] + 47), each.what, soft=True)  # fmt: skip
        return group([first, second])
    y = (one[1] + other[1]) / 2 + 4
    aside, anchor = (-30.0, "end") if each.name in _NAMED_LEFT else (27.0, "start")
    name, what = shown.split("  ")
    lines = [note((one[0] + aside, y - 8), name, anchor=anchor)]
    lines += [
        note((one[0] + aside, y + 9 + 16 * row), words, anchor=anchor, soft=True)
        for row, words in enumerate(wrap(what, _LETTERS))
    ]
    return group(lines)


def _body(each: Part, one: Point, other: Point) -> Element:
    """What stands between the ends."""
    kind = each.name.rstrip("0123456789.") if each.name[0] != "S" else "S"
    if each.name == "K1.coil":
        return box(one, other, 30.0)
    match kind:
        case "F":
            return group([box(one, other, 14.0), line(one, other, stroke=INK, stroke_width=1.4)])
        case "M":
            return box(one, other, 40.0)
        case "B" | "C":
            return _plates(one, other, long=kind == "B")
        case "V":
            return _diode(one, other)
        case "T":
            return _transistor(one, other)
    return contact(one, other, closed=kind == "S", colour=_STOP if kind == "S" else INK)


def _plates(one: Point, other: Point, *, long: bool) -> Element:
    x, middle = one[0], (one[1] + other[1]) / 2
    short = 9.0 if long else 16.0
    return group([
        line(one, (x, middle - 6), stroke=INK, stroke_width=1.8),
        line((x, middle + 6), other, stroke=INK, stroke_width=1.8),
        line((x - 16, middle - 6), (x + 16, middle - 6), stroke=INK, stroke_width=3),
        line((x - short, middle + 6), (x + short, middle + 6), stroke=INK, stroke_width=3),
    ])  # fmt: skip


def _diode(anode: Point, cathode: Point) -> Element:
    x, middle = anode[0], (anode[1] + cathode[1]) / 2
    return group([
        line(anode, cathode, stroke=INK, stroke_width=1.8),
        polygon([(x - 10, middle + 9), (x + 10, middle + 9), (x, middle - 9)], **CUT),
        line((x - 10, middle - 9), (x + 10, middle - 9), stroke=INK, stroke_width=2.4),
    ])  # fmt: skip


def _transistor(one: Point, other: Point) -> Element:
    x, middle = one[0], (one[1] + other[1]) / 2
    return group([
        circle((x - 4, middle), 22.0, **CUT),
        line(one, other, stroke=INK, stroke_width=1.8, stroke_dasharray="16 10 8 10 16"),
        line((x - 12, middle - 14), (x - 12, middle + 14), stroke=INK, stroke_width=2.4),
        line((x - 12, middle), (x - 54, middle), stroke=INK, stroke_width=1.8),
        note((x - 58, middle - 4), "PD7", anchor="end"),
        note((x - 58, middle + 13), "GP14", anchor="end"),
    ])  # fmt: skip


def _links() -> list[Element]:
    """What moves together: the button's two contacts, and the coil with its contact."""
    dashed: dict[str, Value | None] = {
        "stroke": SOFT_INK, "stroke_width": 1.2, "stroke_dasharray": "5 5",
    }  # fmt: skip
    button = [(712, 250), (690, 250), (690, 205), (915, 205), (915, 430), (988, 430)]
    coil = [(715, 360), (652, 360), (652, 178), (345, 178)]
    knob = element("path", d="M690 235 h-14 a15 15 0 0 0 0 30 h14 z", fill=_STOP, stroke=INK)
    chip = group([
        rectangle((925.0, 270.0), 170.0, 70.0, fill=PAPER, stroke=INK, stroke_width=1.6),
        note((1010.0, 298.0), "controller", anchor="middle"),
        note((1010.0, 318.0), "input PC0 or GP16", anchor="middle", soft=True),
    ])  # fmt: skip
    return [polyline(button, **dashed), polyline(coil, **dashed), knob, chip]
