"""``board-check`` on the project's own images, and on boards that are wrong on purpose."""

from __future__ import annotations

import re
import subprocess
import tomllib
from pathlib import Path

import anyio
import pytest
from feedscript_drivers.setting_up.board_check.check import STEPS, check_board
from feedscript_drivers.setting_up.board_check.steps import Do, Found, See, Step

from tests.firmware.conftest import Memories
from tests.firmware.far_end import BUILD, FIRMWARE, IMAGES, FarEnd, make
from tests.firmware.plain_host import NUMBERS, PlainHost
from tests.firmware.test_steppers import numbers
from tests.firmware.virtual_link import SteppedStream, in_virtual_time

WRONG = tomllib.loads((Path(__file__).parent / "wrong_boards.toml").read_text())
#: Always tried; the rest is long.
ALWAYS = ("the emergency loop is not read", "the gate stays open")
ACTS = {
    Do.SWITCH_ON: ("arm_switch", 1),
    Do.SWITCH_OFF: ("arm_switch", 0),
    Do.PRESS: ("loop_open", 1),
    Do.RELEASE: ("loop_open", 0),
    Do.NO_BALL: ("hopper", 0),
    Do.STICK: ("sensor_s", 0.05),
    Do.CHANGE_PAN_HOME: ("near_stuck_0", 1),
    Do.CHANGE_TILT_HOME: ("near_stuck_1", 1),
    Do.LEAVE_PAN_HOME: ("near_stuck_0", 0),
    Do.LEAVE_TILT_HOME: ("near_stuck_1", 0),
    Do.TURN_1: ("by_hand_0", 8),
    Do.TURN_2: ("by_hand_1", 8),
    Do.TURN_3: ("by_hand_2", 8),
}

STEPPERS = "-DSTEPPERS=3u"
ONLY_WHEEL = (See.ONLY_WHEEL_1, See.ONLY_WHEEL_2, See.ONLY_WHEEL_3)
HELD_FAST = 1e-9  # turns a second
SEEN_DEG = 0.5  # by eye


class AtTheBench:
    """Somebody with a meter: does what is asked, and reads the pins."""

    def __init__(self, far: FarEnd) -> None:
        self.far = far
        self.before = far.get()
        self.wheels = range(len(self.before["duty"]))
        for wheel in self.wheels:
            far.set(f"stuck_{wheel}", 1)  # the motors have no power

    async def do(self, what: Do) -> None:
        await anyio.sleep(0.3)
        self.before = self.far.get()
        if what in (Do.RESTART, Do.RESET):
            self.far.tell("brown-out" if what is Do.RESTART else "reset")
        elif what is Do.BALL:
            self.far.set("hopper", 5)
            self.far.set("jammed", 1)
        elif what in ACTS:
            self.far.set(*ACTS[what])

    async def sees(self, what: See) -> bool:
        await anyio.sleep(0.3)
        now, before = self.far.get(), self.before
        match what:
            case See.ALL_OFF:
                return not (now["power"] or now["gate"] or any(now["duty"]) or any(now["servo_us"]))
            case See.POWERED:
                return bool(now["power"])
            case See.ONLY_WHEEL_1 | See.ONLY_WHEEL_2 | See.ONLY_WHEEL_3:
                turned = [a > b for a, b in zip(now["most_duty"], before["most_duty"], strict=True)]
                return turned == [what is one for one in ONLY_WHEEL[: len(self.wheels)]]
            case See.ONLY_PAN | See.ONLY_TILT:
                moved = [
                    now["servo_us"][axis] != before["servo_us"][axis]
                    or abs(now["axis_deg"][axis] - before["axis_deg"][axis]) > SEEN_DEG
                    for axis in (0, 1)
                ]
                return moved == [what is See.ONLY_PAN, what is See.ONLY_TILT]
            case See.GATE_ONCE:
                return bool(now["gate_openings"] == before["gate_openings"] + 1 and not now["gate"])
            case See.STOPPED_TURNING:
                for wheel in self.wheels:
                    self.far.set(f"by_hand_{wheel}", HELD_FAST)
                return not any(now["duty"])

    async def measures(self, question: str) -> bool:
        shown = float(re.findall(r"-?\d+\.?\d*", question)[0])
        if "protractor" in question:
            axis = 0 if "does pan" in question else 1
            return bool(abs(shown - self.far.get()["axis_deg"][axis]) <= 1)
        meter, within = (12.6, 0.5) if " V. " in question else (30, 5)
        return abs(shown - meter) <= within


async def checked(far: FarEnd, steps: tuple[Step, ...]) -> list[Found]:
    stream = SteppedStream(far)
    try:
        async with anyio.create_task_group() as tasks:
            tasks.start_soon(stream.drive)
            stream.person.absent = True
            await anyio.sleep(0.1)
            found = [each async for each in check_board(stream, AtTheBench(far), steps)]
            tasks.cancel_scope.cancel()
    finally:
        stream.let_go()
    return found


def wrong_ones(found: list[Found]) -> dict[str, str]:
    return {each.name: each.figure for each in found if not each.fine}


def named(*names: str) -> tuple[Step, ...]:
    """The greeting, without which nothing is asked, and these steps."""
    return tuple(step for step in STEPS if step.name in (STEPS[0].name, *names))


@pytest.mark.timeout(900)  # the emulated chip needs minutes on a busy machine
@pytest.mark.parametrize("image", IMAGES)
def test_the_projects_own_images_pass(image: str, memories: Memories) -> None:
    with FarEnd(image, memory=memories[image]) as far:
        found: list[Found] = in_virtual_time(checked, far, STEPS)
    assert wrong_ones(found) == {}
    assert [each.name for each in found] == [step.name for step in STEPS]


COMPILE = ["gcc", "-std=gnu11", "-w", f"-I{FIRMWARE / 'core'}", "-iquote", FIRMWARE / "harness"]
HARNESS = ("far_end", "cable", "console", "inside", "plant", "pty")


def compiled(folder: Path, *options: str) -> Path:
    sources = [*(FIRMWARE / "core").rglob("*.c")]
    sources += [FIRMWARE / "harness" / f"{part}.c" for part in HARNESS]
    subprocess.run([*COMPILE, *options, "-c", *sources], check=True, cwd=folder)
    return folder


@pytest.fixture(scope="module")
def objects(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """All of the native image but its board."""
    return compiled(tmp_path_factory.mktemp("objects"))


@pytest.fixture(scope="module")
def stepping_objects(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The same for a launcher whose axes are on stepping motors."""
    return compiled(tmp_path_factory.mktemp("stepping"), STEPPERS)


def built(name: str, objects: Path, folder: Path, *options: str) -> Path:
    """The native image, its board changed in one place."""
    text = (FIRMWARE / "boards" / "posix" / "board.c").read_text()
    old, new = WRONG[name]["old"], WRONG[name]["new"]
    assert text.count(old) == 1, f"boards/posix/board.c has changed: fix {name!r}"
    (folder / "board.c").write_text(text.replace(old, new))
    image = folder / "launcher"
    subprocess.run(
        [*COMPILE, *options, "-o", image, folder / "board.c", *objects.glob("*.o"), "-lutil"],
        check=True,
    )
    return image


@pytest.mark.parametrize(
    "name",
    [
        pytest.param(one, marks=[] if one in ALWAYS else [pytest.mark.long])
        for one in WRONG
        if "steppers" not in WRONG[one]
    ],
)
def test_a_wrong_board_is_found(
    name: str, memories: Memories, objects: Path, tmp_path: Path
) -> None:
    """By the step that is there for it, though nothing before it was tried but the greeting."""
    with FarEnd("posix", memory=memories["posix"], built=built(name, objects, tmp_path)) as far:
        found: list[Found] = in_virtual_time(checked, far, named(WRONG[name]["step"]))
    wrong = wrong_ones(found)
    assert list(wrong) == [WRONG[name]["step"]]
    assert found[-1].help


def stepping_memory(stepping_objects: Path, folder: Path) -> Path:
    """Of a board that is right, and set up."""
    board = FIRMWARE / "boards" / "posix" / "board.c"
    subprocess.run(
        [
            *COMPILE,
            STEPPERS,
            "-o",
            folder / "right",
            board,
            *stepping_objects.glob("*.o"),
            "-lutil",
        ],
        check=True,
    )
    with FarEnd("posix", built=folder / "right") as far, PlainHost(far) as host:
        host.configure(numbers())
        far.save(folder / "memory")
    return folder / "memory"


HOMES = named("pan", "tilt", "pan's home", "tilt's home")


@pytest.mark.parametrize("steps", [HOMES, pytest.param(STEPS, marks=pytest.mark.long)])
def test_a_board_with_axes_on_stepping_motors_passes(
    steps: tuple[Step, ...], stepping_objects: Path, tmp_path: Path
) -> None:
    memory = stepping_memory(stepping_objects, tmp_path)
    with FarEnd("posix", memory=memory, built=tmp_path / "right") as far:
        found: list[Found] = in_virtual_time(checked, far, steps)
    assert wrong_ones(found) == {}
    assert "fault 13" in next(each.figure for each in found if each.name == "pan's home")


def with_wheels(wheels: int, folder: Path) -> tuple[Path, Path]:
    """The native image for so many wheels, and the memory of one that was set up."""
    make(f"build/launcher-wheels-{wheels}")
    image = BUILD / f"launcher-wheels-{wheels}"
    most = {number: 4000 if number <= wheels else 0 for number in (1, 2, 3)}
    with FarEnd("posix", built=image) as far, PlainHost(far) as host:
        host.configure({**NUMBERS, **most})
        far.save(folder / "memory")
    return image, folder / "memory"


@pytest.mark.parametrize("wheels", [1, 3])
def test_a_board_with_another_number_of_wheels_passes(wheels: int, tmp_path: Path) -> None:
    image, memory = with_wheels(wheels, tmp_path)
    with FarEnd("posix", memory=memory, built=image) as far:
        found: list[Found] = in_virtual_time(checked, far, STEPS)
    assert wrong_ones(found) == {}
    for each in found:
        if told := re.fullmatch(r"wheel (\d)('s sensor)?", each.name):
            has = "turns a minute" if told[2] else "its stillness is fault"
            lacks = f"it has no such wheel: number {told[1]} is 0"
            assert (lacks if int(told[1]) > wheels else has) in each.figure


def test_a_third_wheels_dead_sensor_is_found(tmp_path: Path) -> None:
    image, memory = with_wheels(3, tmp_path)
    with FarEnd("posix", memory=memory, built=image) as far:
        far.set("tach_dead_2", 1)
        found: list[Found] = in_virtual_time(checked, far, named("wheel 3's sensor"))
    assert "measured [0, 0, 0] turns a minute" in wrong_ones(found)["wheel 3's sensor"]


@pytest.mark.parametrize("name", [one for one in WRONG if "steppers" in WRONG[one]])
def test_a_wrong_board_with_stepping_motors_is_found(
    name: str, stepping_objects: Path, tmp_path: Path
) -> None:
    memory = stepping_memory(stepping_objects, tmp_path)
    image = built(name, stepping_objects, tmp_path, STEPPERS)
    with FarEnd("posix", memory=memory, built=image) as far:
        found: list[Found] = in_virtual_time(checked, far, named(WRONG[name]["step"]))
    assert list(wrong_ones(found)) == [WRONG[name]["step"]]
    assert found[-1].help


def test_at_least_twenty_boards_are_wrong_on_purpose() -> None:
    assert len(WRONG) >= 20
