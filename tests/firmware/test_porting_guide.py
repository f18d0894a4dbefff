"""The porting guide and its template against the boundary that they are about."""

from __future__ import annotations

import re
import subprocess
from pathlib import Path

import pytest
from feedscript_drivers.setting_up.board_check.check import STEPS

from tests.firmware.far_end import FIRMWARE

BOUNDARY = (FIRMWARE / "core" / "board.h").read_text(encoding="utf-8")
GUIDE = (FIRMWARE / "boards" / "README.md").read_text(encoding="utf-8")
FUNCTIONS = re.findall(r"^\w+ (board_\w+)\(", BOUNDARY, re.M)
SECTIONS = dict(re.findall(r"^### (board_\w+)\n(.*?)(?=^### |\Z)", GUIDE, re.M | re.S))


def test_every_function_of_the_boundary_has_its_section_in_its_order() -> None:
    assert len(FUNCTIONS) > 20
    assert sorted(SECTIONS) == sorted(FUNCTIONS)


@pytest.mark.parametrize("function", FUNCTIONS)
def test_each_section_says_which_steps_check_it(function: str) -> None:
    """They are steps of board-check, or there is none and it says so."""
    (checked,) = re.findall(r"\*Checked by:\* (.*?)(?:\.\n|;? ?then |\Z)", SECTIONS[function], re.S)
    if checked.startswith(("nothing", "as `")):
        return
    names = [
        re.sub(r" \(.*?\)|^every stop$", "", part) for part in re.split(r"; ", checked.strip())
    ]
    assert {name for name in names if name} <= {step.name for step in STEPS}


def test_every_step_that_names_a_function_names_one_that_there_is() -> None:
    named = {name for step in STEPS for name in re.findall(r"\b(board_[a-z_]+)\(", step.help)}
    assert named
    assert named <= set(FUNCTIONS)


@pytest.fixture(scope="module")
def template(tmp_path_factory: pytest.TempPathFactory) -> Path:
    made = tmp_path_factory.mktemp("template") / "board.o"
    strict = [
        "-std=gnu11",
        "-O1",
        "-Wall",
        "-Wextra",
        "-Wconversion",
        "-Wsign-conversion",
        "-Werror",
    ]
    source = FIRMWARE / "boards" / "template" / "board.c"
    command = ["gcc", *strict, "-Wmissing-prototypes", f"-I{FIRMWARE / 'core'}", "-c", source]
    subprocess.run([*command, "-o", made], check=True)
    return made


def test_the_template_answers_the_whole_boundary(template: Path) -> None:
    told = subprocess.run(["nm", "-P", template], check=True, capture_output=True, text=True).stdout
    defined = {name for name, kind, *_ in map(str.split, told.splitlines()) if kind == "T"}
    asked = {name for name, kind, *_ in map(str.split, told.splitlines()) if kind == "U"}
    assert set(FUNCTIONS) <= defined
    callbacks = {"fence_tick", "fence_byte", "fence_ball", "launcher_begin", "launcher_poll"}
    assert asked >= callbacks


def test_the_firmwares_page_counts_the_steps() -> None:
    page = (FIRMWARE / "README.md").read_text(encoding="utf-8")
    assert "walks you through thirty-four steps" in page
    assert len(STEPS) == 34
