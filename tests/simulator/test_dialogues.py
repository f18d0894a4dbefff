"""The stand-in plays every whole exchange that the firmware plays."""

from __future__ import annotations

import pytest
from feedscript_simulator.controller import Make
from feedscript_simulator.far_end import FarEnd
from feedscript_simulator.plant import rates_of
from feedscript_simulator.stored import Stored

from feedscript.launcher.profile.read_profile import read_profile
from feedscript.shipped import shipped_folder
from tests.dialogues import BOOK, OF_HOMING, STORIES, play


class StandInBench:
    """A far end in a time of its own, with hands for the person."""

    def __init__(self, clock_start_ms: int = 0, launcher: str = "garage") -> None:
        profile = read_profile(shipped_folder() / "launchers" / f"{launcher}.toml").profile
        assert profile is not None
        stored = Stored(
            numbers={int(number): value for number, value in BOOK["numbers"].items()},
            profile_hash=BOOK["hash"],
        )
        make = Make(
            stored=stored, rates=rates_of(profile), hopper=60, clock_start_ms=clock_start_ms
        )
        self.end = FarEnd(make)
        self.now_s = 0.0

    def write(self, data: bytes) -> None:
        self.end.receive(data, self.now_s)

    def advance(self, ms: int) -> bytes:
        self.now_s += ms / 1000
        self.end.advance(self.now_s)
        return self.end.take_output()

    def turn(self, what: str) -> None:
        machine = self.end.machine
        self.end.advance(self.now_s)
        match what:
            case "switch on" | "switch off":
                machine.turn_switch(what == "switch on")
            case "emergency pressed" | "emergency released":
                machine.press_emergency(what == "emergency pressed")
            case "next ball jams":
                machine.feeder.jams_at = frozenset({machine.feeder.openings + 1})
            case "hopper empty":
                machine.feeder.hopper = 0
            case "power off and on":
                switch_on = machine.switch_on
                self.end.power_cycle(self.now_s)
                self.end.machine.switch_on = switch_on
            case _:
                raise AssertionError(f"no such act: {what}")

    def is_off(self) -> bool:
        machine = self.end.machine
        opening = machine.feeder.opening
        gate_open = opening is not None and opening.cut_ms is None
        powered = machine.homing or machine.plant.powered(machine.now_ms)
        return not gate_open and not powered


@pytest.mark.parametrize("name", STORIES)
def test_the_stand_in_plays_the_story(name: str) -> None:
    play(StandInBench(), name)


@pytest.mark.parametrize("name", OF_HOMING)
def test_with_axes_on_stepping_motors_it_looks_for_home_as_the_firmware_does(name: str) -> None:
    play(StandInBench(launcher="stepping-head"), name)


@pytest.mark.parametrize("name", ["one ball", "a jam", "watchdog", "hold, flush, go on"])
def test_its_clock_may_wrap_in_the_story(name: str) -> None:
    play(StandInBench(clock_start_ms=2**32 - 2500), name)
