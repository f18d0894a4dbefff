"""Axes on servos, on all images as compiled: where they stand at power-up nobody knows."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from feedscript.session.operator.phases import Phase
from tests.firmware.far_end import IMAGES, FarEnd
from tests.firmware.plain_host import NUMBERS, PlainHost
from tests.firmware.test_programs import THIRTY, conduct
from tests.firmware.virtual_link import garage, in_virtual_time

PAN_RATE, TILT_RATE = 15, 16
RATE_DPS = 15.0
#: The servos of this launcher are no faster than its stored rate says: 900 us for 90 degrees.
US_PER_DEG = 10.0
RANGE_S = (NUMBERS[5] - NUMBERS[4]) / 100 / RATE_DPS
#: How far from its pulse a servo may be: a tenth of a degree.
NEAR_US = 1.0
ENDS = {"left": (1200.0, 1350.0), "right": (1800.0, 1850.0)}
SETTING = "2000 1500 0 -2900 4000 0"


@pytest.fixture(params=IMAGES)
def host(request: pytest.FixtureRequest, memories: dict[str, Path]) -> Iterator[PlainHost]:
    with FarEnd(request.param, memory=memories[request.param]) as far, PlainHost(far) as side:
        side.open()
        for number in (PAN_RATE, TILT_RATE):
            side.must(f"SET {number} {round(RATE_DPS * 100)}", wait=600)
        side.must(f"HASH {'5eed' * 16}", wait=600)
        yield side


def left_at(far: FarEnd, ends: tuple[float, float], us_per_s: float) -> None:
    """Somebody's hand has turned the head while nothing had power."""
    for axis, us in enumerate(ends):
        far.set(f"servo_at_us_{axis}", us)
        far.set(f"servo_us_per_s_{axis}", us_per_s)


def points_truly(leave: dict[str, list[float]]) -> bool:
    pairs = zip(leave["servo_at_us"], leave["servo_us"], strict=True)
    return all(abs(at - told) <= NEAR_US for at, told in pairs)


@pytest.mark.parametrize("begins_ms", [300, 650])
@pytest.mark.parametrize("end", ENDS)
def test_the_first_ball_waits_until_the_head_is_there_wherever_it_was(
    host: PlainHost, end: str, begins_ms: int
) -> None:
    """Whichever second it is asked for."""
    left_at(host.far, ENDS[end], RATE_DPS * US_PER_DEG)
    host.arm()
    asked_ms = [begins_ms, *[1000] * 6]
    for ident, after_ms in enumerate(asked_ms, 1):
        assert host.feed(ident, after_ms, SETTING) == "OK"
        host.run(after_ms)
        if host.far.leaves():
            break
        assert host.words("MISS")[-1] == [str(ident), "12"]
    (leave,) = host.far.leaves()
    assert points_truly(leave)


def test_the_whole_range_is_counted_from_the_first_pulse(host: PlainHost) -> None:
    """Not from where the pulse has come to: that would be waiting twice."""
    left_at(host.far, ENDS["right"], RATE_DPS * US_PER_DEG)
    host.arm()
    assert host.feed(1, round(RANGE_S * 1000) + 400, SETTING) == "OK"
    host.run(RANGE_S * 1000 + 1000)
    (leave,) = host.far.leaves()
    assert points_truly(leave)
    assert not host.words("MISS")


@pytest.mark.parametrize("ran_ms", [100, 700, 2500])
def test_a_head_that_lost_its_power_on_its_way_is_as_unknown_as_before(
    host: PlainHost, ran_ms: int
) -> None:
    left_at(host.far, ENDS["right"], RATE_DPS * US_PER_DEG)
    host.arm()
    assert host.command(f"PREP {SETTING}") == "OK"
    host.run(ran_ms)
    host.must("DISARM")
    host.run(6000)
    left_at(host.far, ENDS["right"], RATE_DPS * US_PER_DEG)
    host.arm()
    assert host.feed(1, 2500, SETTING) == "OK"
    host.run(3000)
    assert host.far.leaves() == []
    assert host.words("MISS") == [["1", "12"]]
    assert host.feed(2, round(RANGE_S * 1000), SETTING) == "OK"
    host.run(RANGE_S * 1000 + 500)
    (leave,) = host.far.leaves()
    assert points_truly(leave)


def test_a_range_that_does_not_reach_straight_ahead_is_kept_from_the_first_pulse(
    host: PlainHost,
) -> None:
    """Level lies below its lowest tilt: a pulse of level would push the head against its stop."""
    host.must("SET 6 2000", wait=600)
    host.must(f"HASH {'5eed' * 16}", wait=600)
    left_at(host.far, (1500.0, 1850.0), RATE_DPS * US_PER_DEG)
    host.arm()
    seen = set()
    for _ in range(20):
        host.run(100)
        seen.add(host.far.get()["servo_us"][1])
    assert seen == {1400 + 200}


@pytest.mark.timeout(900)  # the emulated chip needs minutes on a busy machine
@pytest.mark.parametrize("image", IMAGES)
@pytest.mark.parametrize("end", ENDS)
def test_a_lesson_begins_with_its_first_ball_wherever_the_head_was(
    image: str, end: str, garage_memory: dict[str, Path]
) -> None:
    """Checker, engine and launcher allow for one and the same way."""
    rates_dps = (garage().limits.azimuth_rate_dps, garage().limits.elevation_rate_dps)
    with FarEnd(image, memory=garage_memory[image]) as far:
        left_at(far, ENDS[end], min(rates_dps) * US_PER_DEG)
        ending, balls = in_virtual_time(conduct, THIRTY, far)
        leaves = far.leaves()
    assert ending.phase is Phase.FINISHED
    assert {ball["outcome"] for ball in balls} == {"left"}
    assert len(leaves) == 31
    assert all(points_truly(leave) for leave in leaves)
