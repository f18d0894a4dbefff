"""The bridge's circuit as a picture."""

from __future__ import annotations

from feedscript.building.drawings.circuit import box, contact, joints, part, wire
from feedscript.building.drawings.dimension import GHOST, note, sheet
from feedscript.building.radio_circuit import PARTS, Part
from feedscript.review.drawing.palette import INK, PAPER
from feedscript.review.drawing.svg import Element, Point, group, line, polyline, rectangle, text

_WIDTH, _HEIGHT = 980.0, 480.0
_GROUND = 390.0

PLACES: dict[str, tuple[Point, Point]] = {
    "R1": ((470, 190), (550, 190)),
    "R2": ((610, 240), (610, 310)),
    "J1": ((290, 310), (290, 350)),
}
WIRES: tuple[tuple[Point, ...], ...] = (
    ((250, 190), (470, 190)),
    ((550, 190), (610, 190), (680, 190)),
    ((610, 190), (610, 240)),
    ((610, 310), (610, _GROUND)),
    ((250, 130), (680, 130)),
    ((250, 270), (290, 270), (290, 310)),
    ((290, 350), (290, _GROUND)),
    ((250, _GROUND), (290, _GROUND), (610, _GROUND), (680, _GROUND)),
    ((680, 330), (650, 330), (650, 445), (600, 445)),
)
#: Pins of the two boxes: where, which, and what they are.
_PINS = (
    ((250.0, 130.0), "PD0 or GP1", "serial in", True),
    ((250.0, 190.0), "PD1 or GP0", "serial out", True),
    ((250.0, 270.0), "PC3 or GP19", "setup", True),
    ((250.0, _GROUND), "ground", "", True),
    ((680.0, 130.0), "out", "", False),
    ((680.0, 190.0), "in", "3.3 V at most", False),
    ((680.0, 330.0), "3.3 V", "", False),
    ((680.0, _GROUND), "ground", "", False),
)


def radio_circuit_sheet() -> str:
    """The drawing as SVG."""
    notes = [
        "R1 and R2 bring 5 V down to 3.3 V. At an RP2040 a wire takes the place of R1, and R2 is "
        "left out.",
        "The plug carries either the bridge or the cable, never both: two outputs on one line "
        "damage each other. J1 makes the port a cable again, to set it up; take it off afterwards.",
        "The regulator has 10 µF at the module. Antenna outside of metal, away from motors.",
    ]
    drawn = [*map(wire, WIRES), *joints(WIRES), *map(_part, PARTS), *_boxes(), *map(_pin, _PINS)]
    heading = "Radio bridge on the serial line of a 5 V controller"
    return sheet(_WIDTH, _HEIGHT, heading, notes, drawn)


def _part(each: Part) -> Element:
    one, other = PLACES[each.name]
    drawn = contact(one, other, closed=False) if each.name == "J1" else box(one, other, 16.0)
    if one[1] == other[1]:
        x, y, anchor = (one[0] + other[0]) / 2, one[1] - 32.0, "middle"
    else:
        x, y, anchor = one[0] + 18.0, (one[1] + other[1]) / 2, "start"
    words = [note((x, y), each.name, anchor=anchor)]
    words.append(note((x, y + 17.0), each.what, anchor=anchor, soft=True))
    return part(each.name, each.what, (one, other), [drawn, *words])


def _boxes() -> list[Element]:
    antenna = [
        line((920.0, 130.0), (920.0, 90.0), stroke=INK, stroke_width=2),
        polyline([(908.0, 76.0), (920.0, 90.0), (932.0, 76.0)], stroke=INK, stroke_width=2),
        line((880.0, 130.0), (920.0, 130.0), stroke=INK, stroke_width=1.8),
    ]
    return [
        rectangle((40.0, 80.0), 210.0, 340.0, fill=PAPER, stroke=INK, stroke_width=1.8, rx=4),
        rectangle((680.0, 80.0), 200.0, 340.0, fill=PAPER, stroke=INK, stroke_width=1.8, rx=4),
        rectangle((404.0, 100.0), 36.0, 305.0, **GHOST),
        rectangle((400.0, 428.0), 200.0, 34.0, fill=PAPER, stroke=INK, stroke_width=1.6, rx=4),
        *antenna,
        _heading((145.0, 68.0), "controller"),
        _heading((780.0, 68.0), "radio module"),
        note((422.0, 92.0), "plug", anchor="middle"),
        note((500.0, 449.0), "regulator 5 V to 3.3 V", anchor="middle"),
    ]


def _heading(place: Point, words: str) -> Element:
    return text(place, words, text_anchor="middle", font_size=15, font_weight="bold", fill=INK)


def _pin(pin: tuple[Point, str, str, bool]) -> Element:
    (x, y), name, what, is_left = pin
    at, anchor = (x - 12.0, "end") if is_left else (x + 12.0, "start")
    words = [note((at, y + 4.0), name, anchor=anchor)]
    if what:
        words.append(note((at, y + 21.0), what, anchor=anchor, soft=True))
    return group(words)
