"""A launcher that throws by air through a timed valve, on all images as compiled."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest
from feedscript_drivers.setting_up.board_check.check import STEPS
from feedscript_drivers.wire.limits import stored_numbers

from feedscript.launcher.profile.drives import Valve
from feedscript.launcher.profile.model import profile_hash
from feedscript.session.operator.phases import Phase
from tests.firmware.board_check.test_board_check import checked, wrong_ones
from tests.firmware.conftest import Memories
from tests.firmware.far_end import BUILD, IMAGES, FarEnd, make
from tests.firmware.plain_host import PlainHost
from tests.firmware.test_programs import conduct
from tests.firmware.test_wheels import SEVEN, shipped
from tests.firmware.virtual_link import BOARD_NUMBERS, in_virtual_time

BLOWING = {
    "avr": "launcher-valve.elf",
    "posix": "launcher-valve",
    "rp2040": "launcher-valve.bin",
}
PROFILE = shipped("timed-valve")
#: No pulses of a tachometer and no time of a gate: number 65 is the tank's longest filling, ms.
OWN = {number: value for number, value in BOARD_NUMBERS.items() if number >= 67} | {65: 6000}


@pytest.fixture(scope="module")
def blowing(images: str) -> dict[str, Path]:
    make(*(f"build/{name}" for name in BLOWING.values()))
    return {image: BUILD / name for image, name in BLOWING.items()}


@pytest.fixture(scope="module")
def tanks(blowing: dict[str, Path], tmp_path_factory: pytest.TempPathFactory) -> Memories:
    """Each image's memory, set up with the shipped profile over the wire."""
    folder = tmp_path_factory.mktemp("tanks")

    def write(image: str) -> Path:
        numbers = {int(which): value for which, value in stored_numbers(PROFILE).items()}
        with FarEnd(image, built=blowing[image]) as far, PlainHost(far) as host:
            host.configure({**numbers, **OWN}, profile_hash(PROFILE))
            far.save(folder / image)
        return folder / image

    return Memories(write)


@pytest.fixture(params=IMAGES)
def far(
    request: pytest.FixtureRequest, blowing: dict[str, Path], tanks: Memories
) -> Iterator[FarEnd]:
    image = request.param
    with FarEnd(image, built=blowing[image], memory=tanks[image]) as running:
        running.set("valve", 1)
        running.set("travel_s", PROFILE.feeder.gate_lead_s)
        yield running


@pytest.fixture
def armed(far: FarEnd) -> Iterator[PlainHost]:
    with PlainHost(far) as side:
        side.open()
        side.arm("190 0 0")
        side.must("PREP 80 0 0 0 1000 0")
        side.run(10_000)  # where the servos stand when power comes on nobody knows
        yield side


def speed_mps(opened_s: float) -> float:
    """By the profile's table, the milliseconds that the mechanics saw at the pin."""
    assert isinstance(PROFILE.drive, Valve)
    openings, speeds = np.array(PROFILE.drive.table).T
    return float(np.interp(opened_s * 1000, openings, speeds))


@pytest.mark.timeout(900)
def test_a_lesson_by_a_valve(far: FarEnd) -> None:
    """Each ball by the opening of its own feed, to within half a millisecond of it."""
    ending, balls = in_virtual_time(conduct, SEVEN.format(profile="timed-valve"), far, PROFILE)
    leaves = far.leaves()
    assert ending.phase is Phase.FINISHED
    left = [ball for ball in balls if ball["outcome"] == "left"]
    assert len(left) == len(leaves) == 7
    assert len({round(leave["open_s"], 3) for leave in leaves}) == 3, "a speed for each feed"
    fastest = max(leave["open_s"] for leave in leaves)
    assert speed_mps(fastest - 0.0005) < 85 / 3.6 < speed_mps(fastest + 0.0005)


def test_the_valve_is_open_for_what_is_asked(armed: PlainHost) -> None:
    for ident, opening in enumerate((30, 80, 190), start=1):
        assert armed.feed(ident, 3500, f"{opening} 0 0 0 1000 0") == "OK"
        armed.run(4500)
    assert armed.words("LEFT") == [["1"], ["2"], ["3"]]
    opened_ms = [leave["open_s"] * 1000 for leave in armed.far.leaves()]
    assert opened_ms == pytest.approx([30, 80, 190], abs=0.2)
    assert armed.words("FAULT") == []


def test_a_stop_in_the_middle_of_an_opening_shuts_the_valve(armed: PlainHost) -> None:
    assert armed.feed(1, 2500, "190 0 0 0 1000 0") == "OK"
    armed.run(2250)
    while not armed.far.get()["gate"]:
        assert armed.far.leaves() == []
        armed.run(5, step=5)
    armed.write(b"\x05")
    armed.advance(3)
    pins = armed.far.get()
    assert not pins["gate"]
    armed.run(500)
    assert armed.far.get()["gate_openings"] == 1
    (leave,) = armed.far.leaves()
    assert leave["open_s"] < 0.02, "what left was let go with a breath of air"


@pytest.mark.parametrize("share", [0.9, 1.1])
def test_with_a_pressure_that_is_not_its_own_no_ball_is_sent(
    share: float, armed: PlainHost
) -> None:
    """Neither a weak ball nor one that is faster than what was proven."""
    armed.far.set("tank_leaks", 1)
    armed.far.set("tank_share", share)
    assert armed.feed(1, 2500, "80 0 0 0 1000 0") == "OK"
    armed.run(3000)
    assert armed.words("MISS") == [["1", "12"]]
    assert armed.far.leaves() == []
    armed.run(6000)
    assert armed.words("FAULT") == [["3", "1"]]
    assert not armed.far.get()["power"]


def test_an_opening_past_its_most_is_refused(armed: PlainHost) -> None:
    assert armed.feed(1, 2500, "191 0 0 0 1000 0") == "NO 8 1"
    assert armed.command("SET 1 1401") != "OK"
    assert int(armed.must("HELLO 2 2")[3], 16) & 0x400 == 0, "nothing measures an opening"


def test_of_board_check_the_steps_fail_that_the_guide_names(
    blowing: dict[str, Path], tanks: Memories
) -> None:
    """It asks for wheels, and feeds with still ones, which is no opening here."""
    with FarEnd("posix", built=blowing["posix"], memory=tanks["posix"]) as far:
        far.set("valve", 1)
        wrong = wrong_ones(in_virtual_time(checked, far, STEPS))
    wheel = {"wheel 1", "wheel 1's sensor"}  # others there are not, by their numbers
    assert set(wrong) == wheel | {"the gate, no ball there", "the gate, a ball there"}
    assert len(STEPS) - len(wrong) == 30
