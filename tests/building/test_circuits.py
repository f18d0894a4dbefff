"""The emergency stop's circuit: what still has current, whatever is pressed, broken or stuck; and
that pictures of circuits are the circuits.
"""

from __future__ import annotations

import itertools
import xml.etree.ElementTree as ET
from collections.abc import Iterable
from typing import Any

import msgspec
import pytest

from feedscript.building import radio_circuit
from feedscript.building.drawings.radio_circuit import radio_circuit_sheet
from feedscript.building.drawings.stop_circuit import stop_circuit_sheet
from feedscript.building.stop_circuit import PARTS, Part, Point

SVG = "{http://www.w3.org/2000/svg}"
#: Joined to the module's output by a wire, without a part between.
INPUT = radio_circuit.Point.IN
#: Parts that are open or closed as somebody, or the program, wants.
BUTTON = frozenset({"S1.1", "S1.2"})


def joined(parts: Iterable[Part], start: Point) -> set[Point]:
    """Every point that current gets to from ``start`` through these parts."""
    reached, ahead = {start}, [start]
    links = [(part.one, part.other) for part in parts]
    while ahead:
        here = ahead.pop()
        for one, other in (*links, *[(b, a) for a, b in links]):
            if one is here and other not in reached:
                reached.add(other)
                ahead.append(other)
    return reached


def coil_has_current(parts: tuple[Part, ...], lacking: Iterable[str] = ()) -> bool:
    """Whether one end of the coil gets to plus and the other to minus, without the coil itself,
    nor what bridges it against the current (its diode), nor the battery."""
    without = {*lacking, "K1.coil", "V1", "B1"}
    (coil,) = [part for part in parts if part.name == "K1.coil"]
    rest = [part for part in parts if part.name not in without]
    plus, minus = joined(rest, Point.PLUS), joined(rest, Point.MINUS)
    ends = (coil.one, coil.other)
    return any(a in plus and b in minus for a, b in (ends, ends[::-1]))


def motors_have_power(parts: tuple[Part, ...], lacking: Iterable[str]) -> bool:
    """With the contactor as its coil has it."""
    gone = {*lacking, "B1", "M1", "M2", "C1"}
    if not coil_has_current(parts, lacking):
        gone.add("K1")
    plus = joined([part for part in parts if part.name not in gone], Point.PLUS)
    return bool(plus & {Point.POWER, Point.MOTOR_1, Point.MOTOR_2})


def input_reads_closed(parts: tuple[Part, ...], lacking: Iterable[str]) -> bool:
    rest = [part for part in parts if part.name not in {*lacking, "B1"}]
    return Point.MINUS in joined(rest, Point.LOOP)


def test_the_motors_have_power_only_if_everything_agrees() -> None:
    for button, transistor, switch in itertools.product((True, False), repeat=3):
        lacking = {
            *(() if button else BUTTON),
            *(() if transistor else ("T1",)),
            *(() if switch else ("Q1",)),
        }
        assert motors_have_power(PARTS, lacking) == (button and transistor and switch)


def test_pressed_the_motors_are_off_whatever_the_program_does() -> None:
    """T1 stays closed: a chip that hangs, or a transistor that has burnt through."""
    assert not motors_have_power(PARTS, BUTTON)
    assert not input_reads_closed(PARTS, BUTTON), "and the program is told"


@pytest.mark.parametrize("broken", ["F1", "Q1", "F4", "S1.1", "T1"])
def test_whatever_breaks_in_the_coils_branch_stops_the_launcher(broken: str) -> None:
    parts = tuple(part for part in PARTS if part.name != broken)
    assert not motors_have_power(parts, ())


def test_a_broken_wire_at_the_input_reads_as_pressed() -> None:
    assert input_reads_closed(PARTS, ())
    assert not input_reads_closed(PARTS, {"S1.2"})


def test_each_motor_has_a_fuse_of_its_own() -> None:
    for fuse, motor, other in (
        ("F2", Point.MOTOR_1, Point.MOTOR_2),
        ("F3", Point.MOTOR_2, Point.MOTOR_1),
    ):
        rest = [part for part in PARTS if part.name not in {fuse, "B1", "M1", "M2", "C1"}]
        plus = joined(rest, Point.PLUS)
        assert motor not in plus
        assert other in plus


def test_the_diode_lets_nothing_through_from_plus() -> None:
    """Its arrow points to plus: turned round it would burn, and short the transistor."""
    (diode,) = [part for part in PARTS if part.name == "V1"]
    assert (diode.one, diode.other) == (Point.COIL, Point.BUTTON)


def test_a_button_that_is_bridged_is_seen() -> None:
    """These tests see it: the same circuit with a wire past the button."""
    bridged = (*PARTS, Part("X1", "a wire", Point.CONTROL, Point.BUTTON))
    assert motors_have_power(bridged, BUTTON)
    behind = tuple(
        msgspec.structs.replace(part, one=Point.MAIN) if part.name == "K1.coil" else part
        for part in PARTS
    )
    assert motors_have_power(behind, BUTTON)


def read_back(svg: str) -> dict[str, list[int]]:
    """Each part of a picture with the nets at its ends: wires that share a corner are one net, and
    an end belongs to the net on whose corner it lies."""
    root = ET.fromstring(svg)
    wires = [
        {tuple(map(float, pair.split(","))) for pair in line.attrib["points"].split()}
        for line in root.iter(f"{SVG}polyline")
        if line.attrib.get("class") == "wire"
    ]
    nets: list[set[tuple[float, ...]]] = []
    for wire in wires:
        met = [net for net in nets if net & wire]
        nets = [net for net in nets if not net & wire] + [set.union(wire, *met)]
    drawn: dict[str, list[int]] = {}
    for part in root.iter(f"{SVG}g"):
        if "id" not in part.attrib:
            continue
        ends = [
            (float(end.attrib["cx"]), float(end.attrib["cy"]))
            for end in part.iter(f"{SVG}circle")
            if end.attrib.get("class") == "end"
        ]
        at = [[index for index, net in enumerate(nets) if end in net] for end in ends]
        assert all(len(one) == 1 for one in at), part.attrib["id"]
        drawn[part.attrib["id"]] = [one[0] for one in at]
    return drawn


@pytest.mark.parametrize(
    ("svg", "parts", "points"),
    [
        (stop_circuit_sheet(), PARTS, Point),
        (radio_circuit_sheet(), radio_circuit.PARTS, set(radio_circuit.Point) - {INPUT}),
    ],
)
def test_the_picture_is_the_circuit(svg: str, parts: Any, points: Any) -> None:
    drawn = read_back(svg)
    assert set(drawn) == {part.name for part in parts}
    point_of: dict[int, Any] = {}
    for part in parts:
        for net, point in zip(drawn[part.name], (part.one, part.other), strict=True):
            assert point_of.setdefault(net, point) is point, part.name
    assert len(set(point_of.values())) == len(point_of), "two nets are one point"
    assert set(point_of.values()) == set(points)


def test_the_module_is_given_no_more_than_it_bears() -> None:
    """What the two resistors make of 5 V, and what a driver and its cable lose: Ohm's law."""
    ohm = {part.name: part.ohm for part in radio_circuit.PARTS}
    assert 3.0 <= 5.0 * ohm["R2"] / (ohm["R1"] + ohm["R2"]) <= 3.4
    (first,) = [part for part in radio_circuit.PARTS if part.name == "R1"]
    assert (first.one, first.other) == (radio_circuit.Point.OUT, radio_circuit.Point.MODULE_IN)
    straight = [part for part in radio_circuit.PARTS if part.name != "R1"]
    assert all(radio_circuit.Point.OUT not in (part.one, part.other) for part in straight)
