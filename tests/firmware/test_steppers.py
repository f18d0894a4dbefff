"""Axes on stepping motors, on all images as compiled: what is told against the mechanics."""

from __future__ import annotations

import contextlib
import os
from collections.abc import Iterator
from functools import partial
from itertools import pairwise
from pathlib import Path

import anyio
import pytest
from click.testing import CliRunner
from feedscript_drivers.wire.limits import stored_numbers
from feedscript_drivers.wire.protocol import StopCharacter

from feedscript.cli import verbs
from feedscript.journal.store import open_journal
from feedscript.launcher.change import turning_s
from feedscript.launcher.profile.model import Profile, profile_hash
from feedscript.session.engine.engine import Engine
from feedscript.session.operator.phases import Phase
from tests.dialogues import BOOK, OF_HOMING, play
from tests.firmware.conftest import Memories
from tests.firmware.far_end import BUILD, CHIPS, IMAGES, FarEnd, make
from tests.firmware.plain_host import NUMBERS, PlainHost
from tests.firmware.test_dialogues import ImageBench
from tests.firmware.test_guide_followed import standing_at
from tests.firmware.test_programs import conduct
from tests.firmware.virtual_link import garage, in_virtual_time

#: The 8-bit board has pins for one such axis, its tilt; the others have both.
STEPPING = {
    "avr": ("launcher-steppers-2.elf", "2"),
    "posix": ("launcher-stepping-3", "3"),
    "rp2040": ("launcher-steppers-3.bin", "3"),
}
PAN, TILT = 73, 79
#: 8,000 steps a turn; the sensor's edge; stop to stop; starts at 10, gains 100 degrees a second.
AXIS = (8000, -3500, 10000, 1000, 10000, 50)
RATE_DPS = 30
STEP_DEG = 360 / 8000
#: The edge is met within a step; edge and target are each rounded to the nearest.
NEAR_DEG = 2 * STEP_DEG


def numbers(edge_cdeg: int = -3500) -> dict[int, int]:
    own = {
        first + which: edge_cdeg if which == 1 else value
        for first in (PAN, TILT)
        for which, value in enumerate(AXIS)
    }
    return {**NUMBERS, 15: RATE_DPS * 100, 16: RATE_DPS * 100, **own}


@pytest.fixture(scope="session")
def stepping(images: str) -> dict[str, Path]:
    make(*(f"build/{name}" for name, _ in STEPPING.values()))
    return {image: BUILD / name for image, (name, _) in STEPPING.items()}


@pytest.fixture(scope="session")
def stepping_memories(
    stepping: dict[str, Path], tmp_path_factory: pytest.TempPathFactory
) -> dict[str, Path]:
    """The memory of each image that was asked for, set up over the wire."""
    folder = tmp_path_factory.mktemp("stepping")

    class Written(dict[str, Path]):
        def __missing__(self, image: str) -> Path:
            with FarEnd(image, built=stepping[image]) as far, PlainHost(far) as host:
                host.configure(numbers())
                far.save(folder / image)
            return self.setdefault(image, folder / image)

    return Written()


@pytest.fixture(params=IMAGES)
def host(
    request: pytest.FixtureRequest, stepping: dict[str, Path], stepping_memories: dict[str, Path]
) -> Iterator[PlainHost]:
    image = request.param
    with FarEnd(image, built=stepping[image], memory=stepping_memories[image]) as far:
        if image == "avr":
            far.set("axis_deg_0", 59)  # a servo's: no sensor's edge is near it
        with PlainHost(far) as side:
            side.open()
            yield side


@pytest.fixture(scope="module")
def for_stories(stepping: dict[str, Path], tmp_path_factory: pytest.TempPathFactory) -> Memories:
    """Each stepping image's memory with what the stories begin with."""
    folder = tmp_path_factory.mktemp("stories")
    kept = {int(number): value for number, value in BOOK["numbers"].items()}

    def write(image: str) -> Path:
        with FarEnd(image, built=stepping[image]) as far, PlainHost(far) as host:
            host.configure({**numbers(), **kept}, BOOK["hash"])
            far.save(folder / image)
        return folder / image

    return Memories(write)


@pytest.mark.parametrize("image", IMAGES)
@pytest.mark.parametrize("story", OF_HOMING)
def test_the_image_plays_the_story_of_homing(
    story: str, image: str, stepping: dict[str, Path], for_stories: Memories
) -> None:
    with FarEnd(image, built=stepping[image], memory=for_stories[image]) as far:
        bench = ImageBench(far)
        try:
            play(bench, story)
        finally:
            os.close(bench.descriptor)


def turn_switch(host: PlainHost) -> None:
    host.far.set("arm_switch", 0)
    host.run(50)
    host.must("ARM 3000 3000 0")
    host.run(100)
    host.far.set("arm_switch", 1)
    host.run(100)


def arm(host: PlainHost, most_ms: int = 20_000) -> None:
    """Turn the switch and wait until it says that it is armed; no wheel may turn before."""
    turn_switch(host)
    for _ in range(most_ms // 100):
        if host.words("STATE")[-1][0] != "1":
            break
        assert max(host.far.get()["duty"]) == 0
        host.run(100)
    assert host.words("STATE")[-1] == ["2", "13"]


def point(host: PlainHost, tilt_deg: float, wait_ms: float = 4000) -> None:
    assert host.command(f"PREP 0 0 0 0 {round(tilt_deg * 100)} 0") == "OK"
    host.run(wait_ms)


def tilt_deg(host: PlainHost) -> float:
    angle: float = host.far.get()["axis_deg"][1]
    return angle


@pytest.mark.parametrize("left_at_deg", [7.3, -38.0])
def test_it_finds_its_place_before_it_is_armed_and_points_truly(
    host: PlainHost, left_at_deg: float
) -> None:
    host.far.set("axis_deg_1", left_at_deg)
    turn_switch(host)
    assert host.state() == 1
    assert host.far.get()["power"]
    assert host.command("PREP 0 0 0 0 1000 0") == "NO 4 1"
    host.command("DISARM")
    host.run(500)
    arm(host)
    for angle in (10.0, 45.0, -5.0):
        point(host, angle)
        assert tilt_deg(host) == pytest.approx(angle, abs=NEAR_DEG)
        assert int(host.must("POSE")[1]) == pytest.approx(angle * 100, abs=5)


@pytest.mark.parametrize("left_at_deg", [-39.9, -35.5, 7.3, 59.9])
def test_it_says_that_it_looks_for_its_place_and_how_long_at_most(
    host: PlainHost, left_at_deg: float
) -> None:
    """Once, and it has ended by then: both ways over the travel at its starting rate, and the
    edge step by step."""
    host.far.set("axis_deg_1", left_at_deg)
    _, told_ms = host.must("GET 102")
    turn_switch(host)
    began_ms = next(int(event[1]) for event in host.events if event[2:] == ["STATE", "1", "16"])
    assert host.must("STAT")[:2] == ["1", "16"]
    for _ in range(300):
        if host.words("STATE")[-1][0] == "2":
            break
        host.run(100)
    states = [event for event in host.events if event[2] == "STATE"]
    assert [event[3:] for event in states[-2:]] == [["1", "16"], ["2", "13"]]
    assert int(states[-1][1]) - began_ms <= int(told_ms)
    back_s = (NUMBERS[6] - AXIS[1]) / AXIS[3]  # its home lies below its range, where it ends
    assert int(told_ms) / 1000 == pytest.approx(2 * AXIS[2] / AXIS[3] + back_s, abs=1.5)
    assert tilt_deg(host) == pytest.approx(NUMBERS[6] / 100, abs=NEAR_DEG)


def test_a_ball_leaves_only_where_its_feed_points(host: PlainHost) -> None:
    arm(host)
    point(host, 0.0)
    assert host.feed(1, 1200, "2000 1500 0 0 4000 0") == "OK"  # 40 degrees take longer
    host.run(2500)
    assert host.words("MISS") == [["1", "12"]]
    assert host.far.leaves() == []
    assert host.feed(2, 4000, "2000 1500 0 0 -500 0") == "OK"
    host.run(5000)
    (leave,) = host.far.leaves()
    assert leave["axis_deg"][1] == pytest.approx(-5.0, abs=NEAR_DEG)


STOPS = {
    "emergency character": (bytes([StopCharacter.EMERGENCY]), None, 5),
    "stop character": (bytes([StopCharacter.STOP]), None, 0),
    "emergency button": (b"", ("loop_open", 1), 5),
    "switch off": (b"", ("arm_switch", 0), 0),
    "cable cut": (b"", ("cut", 1), None),
}
#: A byte on the line, 20 ms of a switch's bounce, a look at the pins; silence is its own limit.
AT_ONCE_US = {"switch off": 25_000, "cable cut": 1_000_000}


@pytest.mark.parametrize("how", STOPS)
def test_a_stop_while_it_finds_its_place_stops_it_at_once(host: PlainHost, how: str) -> None:
    data, touched, state = STOPS[how]
    turn_switch(host)
    host.run(300)
    before = tilt_deg(host)
    host.run(100)
    assert tilt_deg(host) < before
    now_us = host.far.get()["now_us"]
    if touched is not None:
        host.far.set(*touched)
    host.write(data)
    host.advance(1500)
    pins = host.far.get()
    assert pins["last_step_us"] - now_us <= AT_ONCE_US.get(how, 1500)
    assert not pins["power"]
    assert max(pins["duty"]) == 0
    if state is not None:
        host.run(100)
        assert host.state() == state


@pytest.mark.parametrize("after_ms", [40, 350, 700])
def test_power_cut_while_it_finds_its_place_leaves_it_disarmed(
    host: PlainHost, after_ms: int
) -> None:
    turn_switch(host)
    host.run(after_ms)
    host.far.tell("brown-out")
    cut_us = host.far.get()["now_us"]
    host.clock = 0
    host.advance(1000)
    pins = host.far.get()
    assert pins["last_step_us"] <= cut_us
    assert not pins["power"]
    host.sequence += 1
    host.open(78, 99)
    assert host.state() == 0
    arm(host)
    point(host, 20.0)
    assert tilt_deg(host) == pytest.approx(20.0, abs=NEAR_DEG)


@pytest.mark.parametrize("sensor", ["near_dead_1", "near_stuck_1"])
def test_a_sensor_that_never_changes_is_a_fault_of_its_own(host: PlainHost, sensor: str) -> None:
    """Told before it has gone further than from stop to stop, and it does not arm."""
    host.far.set(sensor, 1)
    turn_switch(host)
    steps = host.far.get()["steps"][1]
    for _ in range(300):
        if host.words("FAULT"):
            break
        host.run(100)
    assert host.words("FAULT") == [["12", "2"]]
    began_ms = next(int(event[1]) for event in host.events if event[2:] == ["STATE", "1", "16"])
    ended_ms = next(int(event[1]) for event in host.events if event[2] == "FAULT")
    assert ended_ms - began_ms <= int(host.must("GET 102")[1])
    travel = AXIS[2] / 100 / STEP_DEG
    assert abs(host.far.get()["steps"][1] - steps) <= travel + 20
    host.run(500)
    assert host.state() == 6
    assert not host.far.get()["power"]
    assert host.must("LOG 0")[2:] == ["12", "2"]


def test_lost_steps_stop_it_and_it_finds_its_place_again(host: PlainHost) -> None:
    """It lost them on the way out: on the way back it meets its sensor too early."""
    arm(host)
    host.far.set("axis_slips_1", 60)
    point(host, 40.0)
    assert tilt_deg(host) < 39
    assert host.state() == 2  # nothing tells it here
    host.must("DISARM")
    host.run(500)
    with_vane(host)
    arm(host)
    host.far.set("axis_slips_1", 60)
    point(host, 40.0)
    assert host.command("PREP 0 0 0 0 -500 0") == "OK"
    host.run(3000)
    assert host.words("FAULT") == [["13", "2"]]
    assert host.state() == 6
    assert not host.far.get()["power"]
    host.must("DISARM")
    host.run(300)
    arm(host)
    point(host, 40.0)
    assert tilt_deg(host) == pytest.approx(40.0, abs=NEAR_DEG)


def with_vane(host: PlainHost) -> None:
    """The sensor's edge in the midst of the travel, and both the board and the mechanics know."""
    for axis, first in ((0, PAN), (1, TILT)):
        host.far.set(f"axis_edge_deg_{axis}", 10)
        host.must(f"SET {first + 1} 1000", wait=600)
    host.must(f"HASH {'5eed' * 16}", wait=600)


def test_rate_and_gain_are_kept_on_the_pins(host: PlainHost) -> None:
    """In the pins' own time: never faster than its rate, nor a change of speed above its gain."""
    arm(host)
    point(host, -5.0)
    assert host.command("PREP 0 0 0 0 4500 0") == "OK"
    host.beat()
    counts = []
    for moment in range(2500 // 20):
        if moment % 10 == 0:
            host.beat()
        host.advance(20)
        counts.append(host.far.get()["steps"][1])
    speeds = [after - before for before, after in pairwise(counts)]
    assert tilt_deg(host) == pytest.approx(45.0, abs=NEAR_DEG)
    assert max(speeds) <= RATE_DPS / STEP_DEG * 0.020 + 1
    assert max(speeds) >= RATE_DPS / STEP_DEG * 0.020 - 2
    gain, start = 100 / STEP_DEG * 0.020**2, 10 / STEP_DEG * 0.020
    for before, after in pairwise(speeds):
        assert max(before, after) <= start + 2 or abs(after - before) <= gain + 2


@pytest.mark.parametrize("turn_deg", [0.5, 4.0, 12.0, 45.0])
def test_the_planner_allows_for_the_time_of_its_moves(host: PlainHost, turn_deg: float) -> None:
    """Beyond what it reckons with: a look of the main loop, and the spreading of the last steps."""
    arm(host)
    point(host, 0.0)
    began_us = host.far.get()["now_us"]
    assert host.command(f"PREP 0 0 0 0 {round(turn_deg * 100)} 0") == "OK"
    host.run(4000)
    took_s = (host.far.get()["last_step_us"] - began_us) / 1e6
    assert took_s <= turning_s(turn_deg, RATE_DPS, 100.0) + 0.050
    assert took_s >= 0.5 * turning_s(turn_deg, RATE_DPS, 100.0) - 0.050


@pytest.mark.parametrize("host", CHIPS, indirect=True)
@pytest.mark.parametrize("what", ["hang", "lose-tick"])
def test_a_program_that_hangs_makes_no_more_steps(host: PlainHost, what: str) -> None:
    arm(host)
    assert host.command("PREP 0 0 0 0 4500 0") == "OK"
    host.run(300)
    now_us = host.far.get()["now_us"]
    steps = host.far.get()["steps"][1]
    host.far.tell(what)
    host.far.run(1000)
    pins = host.far.get()
    assert pins["last_step_us"] - now_us <= 21_000
    assert pins["steps"][1] - steps <= 20
    assert not pins["power"]
    assert pins["resets"] == 0  # by itself


def test_it_does_not_arm_without_the_numbers_of_its_axes(host: PlainHost) -> None:
    host.must(f"SET {TILT + 2} -2147483648", wait=600)
    host.must(f"HASH {'5eed' * 16}", wait=600)
    assert host.command("ARM 3000 3000 0") == f"NO 21 {TILT + 2}"
    host.must(f"SET {TILT + 2} 10000", wait=600)
    assert host.command(f"SET {TILT} 0") == f"NO 8 {TILT}"


def test_the_stack_of_the_smallest_chip_has_room(
    stepping: dict[str, Path], stepping_memories: dict[str, Path]
) -> None:
    """2,048 bytes less the variables; the size of the flash is the linker's to refuse."""
    with FarEnd("avr", built=stepping["avr"], memory=stepping_memories["avr"]) as far:
        far.set("axis_deg_0", 59)
        with PlainHost(far) as host:
            host.open()
            arm(host)
            assert host.feed(1, 3000, "2000 1500 0 0 1000 0") == "OK"
            host.run(4000)
            assert len(far.leaves()) == 1
            assert 0 < far.get()["stack_bytes"] < 400


LESSON = """feedscript 1
title "Three balls, far apart"
court { surface hard }
balls { type 2  load 30 }
launcher { profile "garage.toml"  stands 1 m behind centre mark }
group { 1 player  level club  receiver 1 m behind baseline, on centre line }
feed to_ad { land 3 m inside baseline, 2 m to ad of centre line  apex 3 m }
feed to_deuce { land 3 m inside baseline, 2 m to deuce of centre line  speed 85 km/h }
lesson { show speed of to_deuce  send to_ad after 8 s  send to_deuce after 8 s }
"""


def set_up_for(profile: Profile, built: Path, folder: Path) -> Path:
    """The memory of a stepping image as setting it up with this profile would write it."""
    limits = {int(which): value for which, value in stored_numbers(profile).items()}
    own = {number: value for number, value in numbers().items() if number >= 64}
    with FarEnd("posix", built=built) as far, PlainHost(far) as host:
        host.configure({**limits, **own}, profile_hash(profile))
        far.save(folder / "memory")
    return folder / "memory"


class Screen:
    """What a person reads while the lesson goes on, each once, in its order."""

    def __init__(self) -> None:
        self.read: list[tuple[str, str]] = []

    async def watch(self, engine: Engine) -> None:
        while True:
            view = engine.view
            now = (str(view.launchers[0].state_words), str(view.waits_for))
            if now not in self.read:
                self.read.append(now)
            await anyio.sleep(0.1)


def test_a_lesson_is_armed_when_its_head_has_found_its_place(
    stepping: dict[str, Path], tmp_path: Path
) -> None:
    """Through engine and driver: four seconds of looking for home, then every ball as aimed. A
    screen says what the head does and for how long at most, and wants nobody at the switch."""
    screen = Screen()
    profile = garage()
    memory = set_up_for(profile, stepping["posix"], tmp_path)
    with FarEnd("posix", built=stepping["posix"], memory=memory) as far:
        far.set("travel_s", profile.feeder.gate_lead_s)
        lesson = partial(conduct, LESSON, far, profile, beside=screen.watch)
        ending, balls = in_virtual_time(lesson)
        leaves = far.leaves()
    looks = [to_do for words, to_do in screen.read if words == "looks for its home"]
    assert looks == [
        "Hands off: the head looks for its home, 25 s at most. If it takes longer, press its "
        "emergency stop and look at its home sensors."
    ]
    assert ("waits to be armed", "Arm the launcher: act at the launcher itself.") in screen.read
    assert ending.phase is Phase.FINISHED
    assert [ball["outcome"] for ball in balls] == ["left"] * 3
    pans = [round(leave["axis_deg"][0], 1) for leave in leaves]
    assert len(set(pans)) == 2
    assert pans[0] == pans[2]
    assert pans[0] * pans[1] < 0


def test_run_says_that_the_head_looks_for_its_home_and_writes_it_down(
    stepping: dict[str, Path], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The command itself, on the compiled launcher: its lines, and its journal."""
    profile, journal = garage(), tmp_path / "journal.sqlite"
    memory = set_up_for(profile, stepping["posix"], tmp_path)
    program = tmp_path / "three.feed"
    program.write_text(LESSON.replace("garage.toml", "launchers/garage.toml"), "utf-8")
    line = f"run {program} --on serial:/dev/cable --launcher garage --journal {journal}"
    with FarEnd("posix", built=stepping["posix"], memory=memory) as far:
        far.set("travel_s", profile.feeder.gate_lead_s)
        hands = standing_at(far, monkeypatch)
        hands.when_it_waits = ["turn the arming switch off, then on"]
        done = CliRunner().invoke(verbs, [*line.split(), "--yes-i-am-behind-the-launcher"])
    assert done.exit_code == 0, done.output
    told = [one for one in done.output.splitlines() if " arming: " in one]
    acts, looks = (one.partition(" arming: ")[2] for one in told)
    assert acts == "Arm the launcher: act at the launcher itself."
    assert looks.startswith("Hands off: the head looks for its home, 25 s at most.")
    with contextlib.closing(open_journal(journal)) as kept:
        rows = [str(dict(row)) for row in kept.rows("SELECT * FROM entry")]
    assert [row for row in rows if "awaiting-arm" in row and "homing" in row]
