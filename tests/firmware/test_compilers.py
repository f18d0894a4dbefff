"""The core as each compiler makes it: the same answers to the same lines, the same protections."""

from __future__ import annotations

import itertools
import re
import subprocess
from collections.abc import Sequence
from pathlib import Path

import pytest

from tests.firmware.far_end import BUILD, FIRMWARE, make
from tests.firmware.test_core import MUTANTS, SOURCES, UNIT_TESTS

LEG = 2500  # lines from one digest to the next
BUILT = {
    "clang": [BUILD / "lines-clang"],
    "avr": [BUILD / "run_avr", BUILD / "lines-avr.elf"],
    "rp2040": [BUILD / "lines-rp2040.bin"],
}
BARE_CHIP = ["node", BUILD / "emulator" / "bare.mjs"]
CHIPS = {**BUILT, "rp2040": [*BARE_CHIP, *BUILT["rp2040"]]}


def told(command: Sequence[Path | str], legs: int) -> list[str]:
    """The first so many digests of a program that draws lines without end."""
    with subprocess.Popen(command, stdout=subprocess.PIPE, text=True) as process:
        assert process.stdout is not None
        lines = (line for line in process.stdout if re.fullmatch(r"[0-9A-F]{8}\n", line))
        first = list(itertools.islice(lines, legs))
        process.kill()
    return first


@pytest.mark.timeout(5 * 3600)  # ten million on an emulated chip take more than an hour
@pytest.mark.parametrize(
    ("compiler", "lines"),
    [
        ("avr", LEG),
        *(pytest.param(name, 10_000_000, marks=pytest.mark.long) for name in CHIPS),
    ],
)
def test_every_compiler_reads_the_same_lines_alike(compiler: str, lines: int, images: str) -> None:
    """Against gcc's, with sanitizers; what is undefined or turns an output on would end it."""
    make("build/lines-host", *(str(one.relative_to(FIRMWARE)) for one in BUILT[compiler]))
    wanted = told([BUILD / "lines-host"], lines // LEG)
    assert len(set(wanted)) == lines // LEG
    assert told(CHIPS[compiler], lines // LEG) == wanted


ARM = [
    "arm-none-eabi-gcc",
    "-mcpu=cortex-m0plus",
    "-mthumb",
    "-std=gnu11",
    "-Os",
    "-w",
    "-DLINKS=2u",
]
ARM += [f"-I{FIRMWARE / 'core'}", "-iquote", "tests", "-iquote", "tests/chips"]
BARE = ["-nostartfiles", "--specs=nosys.specs", "--specs=nano.specs"]
BARE += ["-T", "tests/chips/bare_rp2040.ld"]


SUBJECTS = ("test_parts", "test_fence", "test_feeds", "test_sessions", "test_links", "test_faults")
EVERYTHING = "+".join(f"{subject}()" for subject in SUBJECTS)


class OnTheChip:
    """The unit tests compiled for a Cortex-M0+, and run as such under the emulator."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        bare = FIRMWARE / "tests" / "chips" / "bare_rp2040.c"
        self.objects = {one.name: self.compiled(one) for one in [*UNIT_TESTS, bare]}
        self.objects |= {name: self.compiled(source) for name, source in SOURCES.items()}

    def compiled(self, source: Path, *options: str, beside: str = "") -> Path:
        made = self.folder / f"{beside}{source.name}.o"
        subprocess.run([*ARM, *options, "-c", source, "-o", made], check=True, cwd=FIRMWARE)
        return made

    def run(self, subject: str, changed: Path | None = None) -> tuple[int, str]:
        """How the tests of one subject end, and the last thing they say."""
        main = FIRMWARE / "tests" / "core_tests.c"
        objects = {**self.objects, main.name: self.compiled(main, f"-DSUBJECTS={subject}")}
        if changed is not None:
            objects[changed.name] = self.compiled(changed, beside="changed-")
        elf, image = self.folder / "unit.elf", self.folder / "unit.bin"
        subprocess.run([*ARM, *BARE, "-o", elf, *objects.values()], check=True, cwd=FIRMWARE)
        subprocess.run(["arm-none-eabi-objcopy", "-O", "binary", elf, image], check=True)
        try:
            done = subprocess.run(
                [*BARE_CHIP, image],
                capture_output=True, text=True, check=False, timeout=1800,
            )  # fmt: skip
        except subprocess.TimeoutExpired:
            return -1, "it does not end"
        return done.returncode, (done.stdout + done.stderr).splitlines()[-1]


@pytest.fixture(scope="module")
def on_the_chip(images: str, tmp_path_factory: pytest.TempPathFactory) -> OnTheChip:
    return OnTheChip(tmp_path_factory.mktemp("chip"))


@pytest.mark.timeout(1800)
@pytest.mark.parametrize(
    "subject",
    [
        SUBJECTS[0],
        *(pytest.param(name, marks=pytest.mark.long) for name in SUBJECTS[1:]),
    ],
)
def test_the_unit_tests_pass_on_a_cortex_m0(subject: str, on_the_chip: OnTheChip) -> None:
    code, said = on_the_chip.run(f"{subject}()")
    assert (code, said.partition(" ")[2]) == (
        0,
        "tests of the core passed, the tick before the loop and within it",
    )


def where_it_is_missed(name: str, folder: Path) -> str | None:
    """The check that notices a mutant on this machine, as FILE:LINE; None where it hangs."""
    program, file = folder / "unit-tests", MUTANTS[name]["file"]
    sources = [*UNIT_TESTS, *(source for source in SOURCES.values() if source.name != file)]
    command = [
        "gcc",
        "-std=gnu11",
        "-O1",
        "-w",
        "-DLINKS=2u",
        f"-I{FIRMWARE / 'core'}",
        "-iquote",
        "tests",
    ]
    subprocess.run([*command, "-o", program, *sources, folder / file], check=True, cwd=FIRMWARE)
    try:
        done = subprocess.run([program], capture_output=True, text=True, check=False, timeout=15)
    except subprocess.TimeoutExpired:
        return None
    found = re.search(r"(test_\w+)\.c:\d+", done.stderr.splitlines()[-1])
    return None if found is None else found[0]


@pytest.mark.long
@pytest.mark.timeout(3600)
@pytest.mark.parametrize("name", [name for name in MUTANTS if "built" not in MUTANTS[name]])
def test_every_protection_is_missed_on_a_cortex_m0_too(
    name: str, on_the_chip: OnTheChip, tmp_path: Path
) -> None:
    """By the same check as on this machine."""
    file, old, new = (MUTANTS[name][part] for part in ("file", "old", "new"))
    mutant = tmp_path / file
    mutant.write_text(SOURCES[file].read_text().replace(old, new))
    where = where_it_is_missed(name, tmp_path)
    if where is None:  # it waits for what never comes, or the board of variables ended it
        assert on_the_chip.run(EVERYTHING, mutant)[0] != 0
        return
    code, said = on_the_chip.run(where.partition(".")[0] + "()", mutant)
    assert code == 1
    assert where in said


def test_what_the_chip_says_is_what_the_program_did(on_the_chip: OnTheChip, tmp_path: Path) -> None:
    """A part that is wrong is told from one that is right, by the line of its check."""
    changed = tmp_path / "text.c"
    text, guard = SOURCES["text.c"].read_text(), "(0xFFFFFFFFuL - digit)"
    assert guard in text
    changed.write_text(text.replace(guard, "0xFFFFFFFFuL"))
    code, said = on_the_chip.run("test_parts()", changed)
    assert code == 1
    assert "test_parts.c:" in said, "a sum that wraps at 32 bits, as numbers do on the chip"
