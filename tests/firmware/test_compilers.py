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
BARE_CHIP: list[Path | str] = ["node", BUILD / "emulator" / "bare.mjs"]
ALONE = "-display none -monitor none"
AVR_QEMU = f"qemu-system-avr -M mega {ALONE} -serial stdio -bios".split()
SEMIHOSTED = "-serial none -semihosting-config enable=on,target=native"
ARM_QEMU = f"qemu-system-arm -M microbit {ALONE} {SEMIHOSTED} -kernel".split()
#: What reads the lines. QEMU translates a chip's code and is twenty times as fast, or more, as the
#: emulators that know all parts of the chip, which the other two are.
READERS: dict[str, list[Path | str]] = {
    "clang": [BUILD / "lines-clang"],
    "avr": [BUILD / "run_avr", BUILD / "lines-avr.elf"],
    "rp2040": [*BARE_CHIP, BUILD / "lines-rp2040.bin"],
    "avr in QEMU": [*AVR_QEMU, BUILD / "lines-avr.elf"],
    "cortex-m0 in QEMU": [*ARM_QEMU, BUILD / "lines-qemu.elf"],
}
MOST_LINES = dict.fromkeys(READERS, 10_000_000) | {"avr": 40 * LEG, "rp2040": 40 * LEG}


def told(command: Sequence[Path | str], legs: int) -> list[str]:
    """The first so many digests of a program that draws lines without end."""
    with subprocess.Popen(
        command, stdin=subprocess.DEVNULL, stdout=subprocess.PIPE, text=True
    ) as process:
        assert process.stdout is not None
        lines = (line for line in process.stdout if re.fullmatch(r"[0-9A-F]{8}\n", line))
        first = list(itertools.islice(lines, legs))
        process.kill()
    return first


@pytest.mark.timeout(3600)
@pytest.mark.parametrize(
    ("reader", "lines"),
    [("avr", LEG), *(pytest.param(*each, marks=pytest.mark.long) for each in MOST_LINES.items())],
)
def test_every_compiler_reads_the_same_lines_alike(reader: str, lines: int, images: str) -> None:
    """Against gcc's, with sanitizers; what is undefined or turns an output on would end it."""
    built = [one for one in READERS[reader] if isinstance(one, Path) and one not in BARE_CHIP]
    make("build/lines-host", *(str(one.relative_to(FIRMWARE)) for one in built))
    wanted = told([BUILD / "lines-host"], lines // LEG)
    assert len(set(wanted)) == lines // LEG
    assert told(READERS[reader], lines // LEG) == wanted


@pytest.mark.parametrize(
    ("right", "wrong"),
    [("minus && (magnitude == 0u)", "false"), ("minus ? least_magnitude : most", "most")],
)
def test_a_core_that_reads_otherwise_tells_other_digests(
    right: str, wrong: str, tmp_path: Path
) -> None:
    """One that takes -0, and one that does not take the least number of all."""
    make("build/lines-host")
    changed, program = tmp_path / "text.c", tmp_path / "lines"
    text = SOURCES["text.c"].read_text()
    assert text.count(right) == 1
    changed.write_text(text.replace(right, wrong))
    sources = [*(one for name, one in SOURCES.items() if name != "text.c"), changed]
    sources += [FIRMWARE / "tests" / "chips" / name for name in ("lines.c", "tell_host.c")]
    command = ["gcc", "-std=gnu11", "-O1", "-w", "-DLINKS=2u", f"-I{FIRMWARE / 'core'}"]
    command += ["-iquote", "tests/chips"]
    subprocess.run([*command, "-o", program, *sources], check=True, cwd=FIRMWARE)
    assert told([program], 16) != told([BUILD / "lines-host"], 16)


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
        bare = FIRMWARE / "tests" / "chips" / "bare_cortex_m0.c"
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
