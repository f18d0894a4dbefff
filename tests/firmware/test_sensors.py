"""A second ball sensor behind the first, on all images as compiled."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.firmware.conftest import Memories
from tests.firmware.far_end import BUILD, IMAGES, FarEnd, make
from tests.firmware.plain_host import PlainHost

SEEING = {
    "avr": "launcher-sensors-2.elf",
    "posix": "launcher-seeing-2",
    "rp2040": "launcher-sensors-2.bin",
}


@pytest.fixture(scope="module")
def seeing(images: str) -> dict[str, Path]:
    make(*(f"build/{name}" for name in SEEING.values()))
    return {image: BUILD / name for image, name in SEEING.items()}


@pytest.fixture(params=IMAGES)
def armed(
    request: pytest.FixtureRequest, seeing: dict[str, Path], memories: Memories
) -> Iterator[PlainHost]:
    image = request.param
    with FarEnd(image, built=seeing[image], memory=memories[image]) as far:
        if image == "avr":
            for axis in (0, 1):  # servos: no home sensor on the pin that the second one has
                far.set(f"axis_deg_{axis}", 59)
        with PlainHost(far) as side:
            side.open()
            side.arm()
            yield side


def throw(host: PlainHost, ident: int) -> None:
    assert host.feed(ident, 3000) == "OK"
    host.run(4000)


def test_each_ball_that_passes_both_is_told_once(armed: PlainHost) -> None:
    for ident in (1, 2):
        throw(armed, ident)
    assert armed.words("LEFT") == [["1"], ["2"]]
    assert armed.words("FAULT") == []
    assert len(armed.far.leaves()) == 2


@pytest.mark.parametrize(("dead", "detail"), [("sensor_dead", "12"), ("second_dead", "22")])
def test_a_dead_one_is_told_as_itself_and_its_ball_has_left(
    armed: PlainHost, dead: str, detail: str
) -> None:
    armed.far.set(dead, 1)
    throw(armed, 1)
    assert armed.words("LEFT") == [["1"]]
    assert armed.words("FAULT") == [["8", detail]]
    assert armed.state() == 6
    assert armed.must("LOG 0")[2:] == ["8", detail]


def test_while_the_second_is_blocked_it_does_not_arm(armed: PlainHost) -> None:
    armed.must("DISARM")
    armed.run(500)
    armed.far.set("second_s", 3.0)
    armed.run(800)
    assert armed.command("ARM 3000 3000 0") == "NO 16 8"
    armed.run(3000)
    armed.arm()
