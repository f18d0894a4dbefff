"""A blank launcher is set up over its cable, and arms only then."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

import pytest
from feedscript_drivers.setting_up import set_up as setting_up
from feedscript_drivers.setting_up.board_file import WHEELS, read_board
from feedscript_drivers.setting_up.keys import find_key
from feedscript_drivers.setting_up.pairing import put_key
from feedscript_drivers.setting_up.set_up import set_up
from feedscript_drivers.wire.protocol import Number
from feedscript_drivers.wire.trust import Trust
from msgspec import structs

from feedscript.launcher.port import CommandRefusedError, LauncherError, LauncherState
from feedscript.launcher.profile.model import Profile
from tests.firmware.far_end import FIRMWARE, IMAGES, REAL_TIME, FarEnd, make
from tests.firmware.virtual_link import garage, in_virtual_time, stepped_launcher

EXAMPLE = FIRMWARE / "board-example.toml"
CEILING = (3000.0, 3000.0)


@pytest.fixture(scope="module", autouse=True)
def images() -> None:
    make("all", "rp2040", "build/launcher-checked")


async def blank_then_set_up(far: FarEnd) -> LauncherState:
    reading = read_board(EXAMPLE)
    assert not reading.diagnostics
    async with stepped_launcher(far, garage()) as (launcher, _):
        with pytest.raises(CommandRefusedError, match="drive-1-most is missing"):
            await launcher.arm(CEILING)
        stored = (await set_up(launcher, garage(), reading.numbers)).stored
        assert {row.number for row in stored} >= {*range(1, 18), *WHEELS.values()}
        await launcher.arm(CEILING)
        return (await launcher.status()).state


@pytest.mark.parametrize("image", IMAGES)
def test_a_blank_launcher_arms_only_after_it_was_set_up(image: str) -> None:
    with FarEnd(image) as far:
        assert in_virtual_time(blank_then_set_up, far) is LauncherState.AWAITING_ARM


async def serials_of_two_set_ups(far: FarEnd) -> list[str]:
    """As the launcher says it after each, the power gone between them."""
    said = []
    for _ in range(2):
        async with stepped_launcher(far, garage()) as (launcher, _stream):
            await set_up(launcher, garage(), read_board(EXAMPLE).numbers)
            said.append((await launcher.link.command("WHO")).arguments[0])
        far.tell("reset")
        far.run(50)
    return said


@pytest.mark.parametrize("image", IMAGES)
def test_setting_up_gives_each_launcher_a_serial_number_of_its_own_and_leaves_it(
    image: str,
) -> None:
    serials = []
    for _ in range(2):
        with FarEnd(image) as far:
            serials.append(in_virtual_time(serials_of_two_set_ups, far))
    (first, again), (other, _) = serials
    assert first == again
    assert first not in ("reference-new", other)


async def warned(far: FarEnd, *boards: dict[int, int]) -> list[list[str]]:
    """What each of some set-ups, one after the other, wants to be thought over."""
    found = []
    for board in boards:
        async with stepped_launcher(far, garage()) as (launcher, _stream):
            done = await set_up(launcher, garage(), board)
        found.append([each.slug for each in done.diagnostics])
    return found


@pytest.mark.parametrize(("supply_mv", "first"), [(12000, ["no-least-voltage"]), (-1, [])])
def test_whoever_does_not_say_when_a_battery_is_empty_is_warned(
    supply_mv: int, first: list[str]
) -> None:
    """Until it holds the number, from whichever set-up; not where it measures no voltage at all."""
    numbers = read_board(EXAMPLE).numbers
    limited = {**numbers, int(Number.LEAST_VOLTAGE_MV): 11000}
    with FarEnd("posix") as far:
        far.set("brown_out_mv", -2)
        far.set("supply_mv", supply_mv)
        told = in_virtual_time(warned, far, numbers, limited, numbers)
    assert told == [first, [], []]


async def stored_by(far: FarEnd, profile: Profile) -> tuple[int, ...]:
    async with stepped_launcher(far, profile) as (launcher, _stream):
        done = await set_up(launcher, profile, read_board(EXAMPLE).numbers)
    held = {each.number: each.value for each in done.stored}
    return held[Number.PAN_RATE_CDEG_S], held[Number.TILT_RATE_CDEG_S]


def with_rates(azimuth_dps: float, elevation_dps: float) -> Profile:
    profile = garage()
    limits = structs.replace(
        profile.limits, azimuth_rate_dps=azimuth_dps, elevation_rate_dps=elevation_dps
    )
    return structs.replace(profile, limits=limits)


@pytest.mark.parametrize(
    ("rates", "stored"), [((0.3, 0.4999), (30, 49)), ((1.0, 2.009), (100, 200))]
)
def test_a_slow_axis_is_stored_as_slow_as_it_is_or_slower(
    rates: tuple[float, float], stored: tuple[int, int]
) -> None:
    with FarEnd("posix") as far:
        assert in_virtual_time(stored_by, far, with_rates(*rates)) == stored


@pytest.mark.parametrize(
    ("rates", "key"), [((0.29, 5.0), "azimuth_rate_dps"), ((5.0, 0.01), "elevation_rate_dps")]
)
def test_an_axis_too_slow_for_the_launcher_is_refused_by_its_key(
    rates: tuple[float, float], key: str
) -> None:
    with FarEnd("posix") as far:
        with pytest.raises(LauncherError) as refused:
            in_virtual_time(stored_by, far, with_rates(*rates))
        far.run(50)
    assert f"`{key}`" in refused.value.diagnostic.help
    assert "0.3" in refused.value.diagnostic.help


async def named(far: FarEnd, name: str) -> str:
    """The launcher's name after it was set up with one, the power gone between."""
    async with stepped_launcher(far, garage()) as (launcher, _stream):
        await set_up(launcher, garage(), {}, name)
    far.tell("reset")
    far.run(50)
    async with stepped_launcher(far, garage()) as (launcher, _stream):
        return launcher.description.name


@pytest.mark.parametrize("image", IMAGES)
def test_a_launcher_is_called_by_the_name_that_it_was_set_up_with(image: str) -> None:
    with FarEnd(image) as far:
        assert in_virtual_time(named, far, "court-2") == "court-2"


@pytest.mark.parametrize("name", ["court 2", "x" * 33, "h\u00f6he", "a*b", "-\n"])
def test_a_name_that_no_line_can_carry_is_refused(name: str) -> None:
    with FarEnd("posix") as far:
        with pytest.raises(LauncherError, match="cannot be a launcher's name"):
            in_virtual_time(named, far, name)
        far.run(50)


@pytest.mark.parametrize("hashes", [("1" * 64, "2" * 64), ("2" * 64, "1" * 64)])
def test_a_hash_that_reads_back_otherwise_is_told(
    hashes: tuple[str, str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Whichever is the greater: what was stored, or what should have been."""
    asked = iter(hashes)

    async def store(far: FarEnd) -> None:
        async with stepped_launcher(far, garage()) as (launcher, _):
            monkeypatch.setattr(setting_up, "profile_hash", lambda _profile: next(asked))
            await set_up(launcher, garage(), read_board(EXAMPLE).numbers)

    with FarEnd("posix") as far, pytest.raises(LauncherError, match="the profile's hash"):
        in_virtual_time(store, far)


async def opened(far: FarEnd, trust: Trust) -> LauncherState | str:
    """What becomes of the launcher when somebody wants to arm it in this way."""
    try:
        async with stepped_launcher(far, garage(), trust=trust) as (launcher, _):
            await launcher.arm(CEILING)
            return (await launcher.status()).state
    except LauncherError as refused:
        return refused.diagnostic.slug


async def from_blank_to_a_radio(far: FarEnd) -> list[object]:
    """The build guide's order, and the ways in which it goes wrong."""
    numbers = read_board(EXAMPLE).numbers
    radio = {**numbers, int(Number.KEY_NEEDED): 1}
    found: list[object] = []
    async with stepped_launcher(far, garage()) as (launcher, _):
        with pytest.raises(LauncherError, match="nothing was stored"):
            await set_up(launcher, garage(), radio)
        await set_up(launcher, garage(), numbers)
    async with stepped_launcher(far, garage()) as (launcher, _):
        await put_key(launcher)
    async with stepped_launcher(far, garage(), trust=Trust.CABLE) as (launcher, _):
        stored = (await set_up(launcher, garage(), radio)).stored
        found.append((stored[-1].number, stored[-1].value))
    found += [await opened(far, trust) for trust in (Trust.KEYED, Trust.PLAIN)]
    async with stepped_launcher(far, garage(), trust=Trust.KEYED) as (launcher, _):
        with pytest.raises(LauncherError) as refused:
            await set_up(launcher, garage(), radio)
        found.append("jumper" in refused.value.diagnostic.help)
    return found


@pytest.mark.parametrize("image", IMAGES)
def test_from_a_blank_board_to_a_paired_radio_launcher(
    image: str, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    """Set up, pair, set up with the port that needs the key: then it arms keyed, and only so."""
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path))
    with FarEnd(image) as far:
        found = in_virtual_time(from_blank_to_a_radio, far)
    assert found == [(20, 1), LauncherState.AWAITING_ARM, "key-refused", True]


async def paired(far: FarEnd) -> str:
    async with stepped_launcher(far, garage()) as (launcher, _):
        serial, _ = await put_key(launcher)
    return serial


@pytest.mark.parametrize("image", IMAGES)
def test_two_launchers_of_one_build_keep_two_keys(
    image: str, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path))
    serials = []
    for _ in range(2):
        with FarEnd(image) as far:
            serials.append(in_virtual_time(paired, far))
    first, second = (find_key(serial) for serial in serials)
    assert serials[0] != serials[1]
    assert None not in (first, second)
    assert first != second


def set_up_command(*arguments: str) -> subprocess.CompletedProcess[str]:
    start = "from feedscript.cli import main; main()"
    return subprocess.run(
        [sys.executable, "-c", start, "set-up", *arguments],
        capture_output=True,
        text=True,
        check=False,
        timeout=60,
    )


def test_the_command_stores_and_reads_back() -> None:
    with FarEnd("posix", pace=REAL_TIME) as far:
        done = set_up_command(
            "--on", f"serial:{far.pty}", "--board", str(EXAMPLE), "--format", "json"
        )
    assert done.returncode == 0, done.stderr
    assert json.loads(done.stdout)["stored"]["board's own 64"] == 6


def test_a_number_that_makes_no_sense_is_refused_by_the_launcher(tmp_path: Path) -> None:
    board = tmp_path / "board.toml"
    board.write_text(EXAMPLE.read_text().replace("per_turn = 6", "per_turn = 0"))
    with FarEnd("posix", pace=REAL_TIME) as far:
        done = set_up_command("--on", f"serial:{far.pty}", "--board", str(board))
    assert done.returncode == 3
    assert "out-of-limits (64)" in done.stdout + done.stderr
    assert "look at the key's unit" in done.stdout + done.stderr


def test_a_number_that_the_launcher_does_not_have_is_told_as_that() -> None:
    """The simulated one has none of a board's own; nor has an image that was built without it."""
    done = set_up_command("--on", "sim:", "--board", str(EXAMPLE))
    assert done.returncode == 3
    assert "SET 64 was refused: not-capable" in done.stdout + done.stderr
    assert "leave `--board` out" in done.stdout + done.stderr


def example_without(*keys: str) -> str:
    lines = EXAMPLE.read_text().splitlines()
    return "\n".join(line for line in lines if not line.startswith(keys))


def test_a_tanks_board_has_one_number_in_place_of_a_wheels_three(tmp_path: Path) -> None:
    board = tmp_path / "board.toml"
    board.write_text(f"{example_without(*WHEELS)}\ntank_fill_ms = 20000\n")
    reading = read_board(board)
    assert not reading.diagnostics
    assert reading.numbers[65] == 20000
    assert not {64, 66} & set(reading.numbers)


@pytest.mark.parametrize(
    ("text", "says"),
    [
        (example_without(*WHEELS), ["gate_open_ms is missing", "without it"]),
        (example_without("gate_open_ms"), ["gate_open_ms is missing"]),
        (
            EXAMPLE.read_text() + "tank_fill_ms = 20000\n",
            ["gate_open_ms is of a launcher with wheels", "keep those of what throws"],
        ),
    ],
)
def test_what_throws_is_described_once_and_whole(
    text: str, says: list[str], tmp_path: Path
) -> None:
    board = tmp_path / "board.toml"
    board.write_text(text)
    reading = read_board(board)
    assert not reading.numbers
    told = " ".join(f"{each.message} {each.help}" for each in reading.diagnostics)
    assert all(one in told for one in says)


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("tachometer_pulses_per_turn = 6.5", "is 6.5"),
        ("tachometer_pulse_per_turn = 6", "tachometer_pulses_per_turn"),
        ("= = =", "not TOML"),
        ("servo_least_us = true", "is True"),
    ],
)
def test_a_wrong_board_file_is_told_with_its_fix(text: str, says: str, tmp_path: Path) -> None:
    board = tmp_path / "board.toml"
    board.write_text(text)
    told = read_board(board).diagnostics
    assert says in " ".join(f"{each.message} {each.help}" for each in told)
    assert not read_board(board).numbers
