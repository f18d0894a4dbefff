"""A port to an invented controller by the porting guide: under 300 lines, and as good as any."""

from __future__ import annotations

import os
import subprocess
from pathlib import Path

import pytest
from feedscript_drivers.setting_up.board_check.check import STEPS

from tests.dialogues import BOOK, STORIES, play
from tests.firmware.board_check.test_board_check import COMPILE, HARNESS, checked, wrong_ones
from tests.firmware.far_end import FIRMWARE, FarEnd
from tests.firmware.plain_host import PlainHost
from tests.firmware.test_dialogues import ImageBench
from tests.firmware.test_stops import all_off_us, turning
from tests.firmware.virtual_link import BOARD_NUMBERS, in_virtual_time

PORT = Path(__file__).parents[1] / "fourth_board"
STRICT = ["-Wall", "-Wextra", "-Wconversion", "-Wsign-conversion", "-Werror"]


@pytest.fixture(scope="module")
def built(tmp_path_factory: pytest.TempPathFactory) -> Path:
    image = tmp_path_factory.mktemp("fourth") / "launcher"
    sources = [*(FIRMWARE / "core").rglob("*.c"), *PORT.glob("*.c")]
    sources += [FIRMWARE / "harness" / f"{part}.c" for part in HARNESS]
    options = [option for option in COMPILE if option != "-w"] + STRICT
    subprocess.run([*options, "-iquote", PORT, "-o", image, *sources, "-lutil"], check=True)
    return image


@pytest.fixture(scope="module")
def memory(built: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    kept = tmp_path_factory.mktemp("fourth") / "memory"
    with FarEnd("fourth", built=built) as far, PlainHost(far) as host:
        host.configure()
        far.save(kept)
    return kept


def test_the_port_has_less_than_three_hundred_lines_and_the_guide_says_how_many() -> None:
    lines = len((PORT / "board.c").read_text().splitlines())
    assert f"in {lines} lines" in (FIRMWARE / "boards" / "README.md").read_text()
    assert lines < 300


@pytest.mark.parametrize("how", ["hang", "lose-tick"])
def test_its_watchdog_restarts_it_disarmed(how: str, built: Path, memory: Path) -> None:
    with FarEnd("fourth", built=built, memory=memory) as far, PlainHost(far) as host:
        host.open()
        host.arm()
        turning(host)
        lost_us = far.get()["now_us"]
        far.tell(how)
        host.run(300)
        assert all_off_us(far.get()) - lost_us <= 150_000
        host.run(300)
        assert host.words("BOOT")[-1][1] == "3"
        assert host.state() == 0


@pytest.mark.long
def test_board_check_finds_nothing(built: Path, memory: Path) -> None:
    with FarEnd("fourth", built=built, memory=memory) as far:
        found = in_virtual_time(checked, far, STEPS)
    assert wrong_ones(found) == {}


@pytest.mark.long
@pytest.mark.parametrize("name", STORIES)
def test_it_plays_every_story(name: str, built: Path, tmp_path: Path) -> None:
    numbers = {int(number): value for number, value in BOOK["numbers"].items()}
    with FarEnd("fourth", built=built) as far, PlainHost(far) as host:
        host.configure({**numbers, **BOARD_NUMBERS}, BOOK["hash"])
        far.save(tmp_path / "memory")
    with FarEnd("fourth", built=built, memory=tmp_path / "memory") as far:
        bench = ImageBench(far)
        try:
            play(bench, name)
        finally:
            os.close(bench.descriptor)
