"""The core by itself: static analysis, unit tests under sanitizers, fuzzing, and mutants."""

from __future__ import annotations

import re
import subprocess
import tomllib
from pathlib import Path

import pytest

from tests.firmware.far_end import FIRMWARE, make

COMPILE = [
    "gcc",
    "-std=gnu11",
    "-O1",
    "-w",
    "-DLINKS=2u",
    f"-I{FIRMWARE / 'core'}",
    "-iquote",
    FIRMWARE / "tests",
]
SOURCES = {source.name: source for source in sorted((FIRMWARE / "core").rglob("*.c"))}
UNIT_TESTS = [
    *(FIRMWARE / "tests" / name for name in ("core_tests.c", "fake_board.c")),
    *sorted((FIRMWARE / "tests").glob("test_*.c")),
]
#: Cores of other launchers, each with its own tests alone.
BUILDS: dict[str, list[str]] = {
    "": [],
    "steppers": ["-DSTEPPERS=3u", "-DSUBJECTS=test_steppers()"],
    "sensors": ["-DSENSORS=2u", "-DSUBJECTS=test_sensors()"],
    "valve": ["-DVALVE=1u", "-DSUBJECTS=test_valve()"],
    "lacking": ["-DLACKS=1", "-DSUBJECTS=test_lacking()"],
    "blind": ["-DLACKS=2", "-DSUBJECTS=test_lacking()"],
}
MUTANTS = tomllib.loads((Path(__file__).parent / "mutants.toml").read_text())


def test_static_analysis_and_unit_tests() -> None:
    """cppcheck and gcc's analyser, for every chip, without a finding; the unit tests under address
    and undefined-behaviour checks."""
    assert re.search(r"\d+ tests of the core passed", make("check", "analyse-chips"))


@pytest.mark.long
def test_misra_deviations_are_those_with_a_reason() -> None:
    make("misra")


def test_the_analyser_follows_paths(tmp_path: Path) -> None:
    """gcc's analyser, as `make analyse-gcc` calls it, finds a mistake that was put in."""
    text = SOURCES["memory.c"].read_text()
    guard = "if (record != (feed_record_t *)0) {"
    assert guard in text
    (tmp_path / "memory.c").write_text(text.replace(guard, "if (count < 99u) {"))
    done = subprocess.run(
        ["gcc", f"-I{FIRMWARE / 'core'}", "-O1", "-fanalyzer", "-c", "memory.c"],
        cwd=tmp_path,
        capture_output=True,
        text=True,
        check=False,
    )
    assert "analyzer-null-dereference" in done.stderr, done.stderr


#: Inputs tried in every run, and by hand with --long. Among the first 60,000 is one that sees an
#: ignored emergency loop (before 53,000) and one that sees a switch that was on already (51,500).
RUNS = {"fuzz_line": (100_000, 2_000_000), "fuzz_launcher": (60_000, 500_000)}


@pytest.mark.parametrize("target", RUNS)
@pytest.mark.parametrize("extent", [0, pytest.param(1, marks=pytest.mark.long)])
def test_fuzzing_finds_nothing(target: str, extent: int, tmp_path: Path) -> None:
    make(*(f"build/{each}" for each in RUNS))
    runs = RUNS[target][extent]
    done = subprocess.run(
        [FIRMWARE / "build" / target, f"-runs={runs}", "-max_len=256", "-seed=1"],
        cwd=tmp_path,
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stderr[-4000:]
    assert f"Done {runs} runs" in done.stderr


def compiled(folder: Path, *options: str) -> dict[str, Path]:
    """Core and unit tests compiled as they are, by the name of their source."""
    made = {}
    for source in [*SOURCES.values(), *UNIT_TESTS]:
        made[source.name] = folder / f"{source.name}.o"
        subprocess.run([*COMPILE, *options, "-c", source, "-o", made[source.name]], check=True)
    return made


@pytest.fixture(scope="module")
def objects(tmp_path_factory: pytest.TempPathFactory) -> dict[str, dict[str, Path]]:
    """Those of each of the builds."""
    return {
        name: compiled(tmp_path_factory.mktemp("objects"), *options)
        for name, options in BUILDS.items()
    }


def passes(objects: dict[str, Path], folder: Path) -> bool:
    """Do the unit tests pass, linked from these objects?"""
    program = folder / "unit-tests"
    subprocess.run(["gcc", "-o", program, *objects.values()], check=True)
    try:
        done = subprocess.run([program], capture_output=True, check=False, timeout=15)
    except subprocess.TimeoutExpired:
        return False  # it waits for what never comes
    return done.returncode == 0


@pytest.mark.parametrize("name", MUTANTS)
def test_every_protection_is_missed_when_it_is_gone(
    name: str, objects: dict[str, dict[str, Path]], tmp_path: Path
) -> None:
    build = MUTANTS[name].get("built", "")
    file, old, new = (MUTANTS[name][part] for part in ("file", "old", "new"))
    text = SOURCES[file].read_text()
    assert old in text, f"{file} has changed: fix the mutant"
    (tmp_path / file).write_text(text.replace(old, new))
    mutant = tmp_path / "mutant.o"
    subprocess.run([*COMPILE, *BUILDS[build], "-c", tmp_path / file, "-o", mutant], check=True)
    assert not passes({**objects[build], file: mutant}, tmp_path)


@pytest.mark.parametrize("build", BUILDS)
def test_without_a_mutation_the_same_build_passes(
    build: str, objects: dict[str, dict[str, Path]], tmp_path: Path
) -> None:
    assert passes(objects[build], tmp_path)
