"""The core as each compiler makes it: the same answers to the same lines, the same protections."""

from __future__ import annotations

import functools
import itertools
import re
import subprocess
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import NamedTuple

import pytest

from tests.firmware.far_end import BUILD, FIRMWARE, make
from tests.firmware.test_core import BUILDS, COMPILE, MUTANTS, SOURCES, UNIT_TESTS, compiled

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
    "avr stepping": [BUILD / "run_avr", BUILD / "lines-stepping-avr.elf"],
    "avr stepping in QEMU": [*AVR_QEMU, BUILD / "lines-stepping-avr.elf"],
    "cortex-m0 in QEMU": [*ARM_QEMU, BUILD / "lines-qemu.elf"],
}
EMULATED = ("avr", "avr stepping", "rp2040")
MOST_LINES = dict.fromkeys(READERS, 10_000_000) | dict.fromkeys(EMULATED, 40 * LEG)


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
    [
        ("avr", LEG),
        *(pytest.param(*each, marks=pytest.mark.long) for each in MOST_LINES.items()),
    ],
)
def test_every_compiler_reads_the_same_lines_alike(reader: str, lines: int, images: str) -> None:
    """Against gcc's, with sanitizers; what is undefined or turns an output on would end it."""
    built = [one for one in READERS[reader] if isinstance(one, Path) and one not in BARE_CHIP]
    host = BUILD / ("lines-stepping-host" if "stepping" in reader else "lines-host")
    make(*(str(one.relative_to(FIRMWARE)) for one in (host, *built)))
    wanted = told([host], lines // LEG)
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


SUBJECTS = (
    "test_parts",
    "test_fence",
    "test_feeds",
    "test_sessions",
    "test_links",
    "test_faults",
    "test_servos",
)
#: Instructions: no single test takes as many.
ENDLESS = 20_000_000_000
#: A changed core that takes so many times as many as the right one does not end.
TIMES = 3


class UnitTest(NamedTuple):
    """One of the core's unit tests: its subject, and its place in that subject's list."""

    subject: str
    place: int

    @property
    def chosen(self) -> tuple[str, ...]:
        """What a compiler is told so that this one alone is run."""
        return f"-DSUBJECTS={self.subject}()", f"-DONLY={self.place}u"


class OnTheChip:
    """The unit tests compiled for a Cortex-M0+, and run as such under the emulator."""

    def __init__(self, folder: Path, *options: str) -> None:
        self.folder, self.options = folder, options
        bare = FIRMWARE / "tests" / "chips" / "bare_cortex_m0.c"
        self.objects = {one.name: self.compiled(one) for one in [*UNIT_TESTS, bare]}
        self.objects |= {name: self.compiled(source) for name, source in SOURCES.items()}
        self.counted: dict[UnitTest, int] = {}

    def compiled(self, source: Path, *options: str, beside: str = "") -> Path:
        made = self.folder / f"{beside}{source.name}.o"
        command = [*ARM, *self.options, *options, "-c", source, "-o", made]
        subprocess.run(command, check=True, cwd=FIRMWARE)
        return made

    def run(
        self, *chosen: str, changed: Path | None = None, most: int | None = None
    ) -> tuple[int, str]:
        """How the chosen tests end, and what they say."""
        main = FIRMWARE / "tests" / "core_tests.c"
        objects = {**self.objects, main.name: self.compiled(main, *chosen)}
        if changed is not None:
            objects[changed.name] = self.compiled(changed, beside="changed-")
        elf, image = self.folder / "unit.elf", self.folder / "unit.bin"
        subprocess.run([*ARM, *BARE, "-o", elf, *objects.values()], check=True, cwd=FIRMWARE)
        subprocess.run(["arm-none-eabi-objcopy", "-O", "binary", elf, image], check=True)
        done = subprocess.run(
            [*BARE_CHIP, image, *([] if most is None else [str(most)])],
            capture_output=True, text=True, check=False,
        )  # fmt: skip
        return done.returncode, done.stdout + done.stderr

    def instructions(self, test: UnitTest) -> int:
        """How many the core as it is takes to pass this one."""
        if test not in self.counted:
            code, said = self.run(*test.chosen, most=ENDLESS)
            assert code == 0, said
            self.counted[test] = int(said.splitlines()[-1])
        return self.counted[test]


@pytest.fixture(scope="module")
def on_the_chip(images: str, tmp_path_factory: pytest.TempPathFactory) -> OnTheChip:
    return OnTheChip(tmp_path_factory.mktemp("chip"))


@pytest.fixture(scope="module")
def built_on_the_chip(
    images: str, tmp_path_factory: pytest.TempPathFactory
) -> Callable[[str], OnTheChip]:
    """Each of the builds that mutants are of, made when it is first asked for."""
    return functools.cache(
        lambda name: OnTheChip(tmp_path_factory.mktemp("chip"), *cores_own(BUILDS[name]))
    )


def cores_own(options: list[str]) -> list[str]:
    """A build's options without its choice of tests."""
    return [one for one in options if not one.startswith("-DSUBJECTS")]


@pytest.mark.timeout(1800)
@pytest.mark.parametrize(
    "subject",
    [
        SUBJECTS[0],
        *(pytest.param(name, marks=pytest.mark.long) for name in SUBJECTS[1:]),
    ],
)
def test_the_unit_tests_pass_on_a_cortex_m0(subject: str, on_the_chip: OnTheChip) -> None:
    code, said = on_the_chip.run(f"-DSUBJECTS={subject}()")
    assert code == 0, said
    assert said.endswith("tests of the core passed, the tick before the loop and within it\n")


@pytest.fixture(scope="module")
def telling(tmp_path_factory: pytest.TempPathFactory) -> Callable[[str], dict[str, Path]]:
    """Each build's objects for this machine, its tests telling which of them is under way."""
    return functools.cache(
        lambda name: compiled(tmp_path_factory.mktemp("telling"), "-DTELL", *BUILDS[name])
    )


def what_misses_it(
    mutant: Path, options: list[str], objects: dict[str, Path]
) -> tuple[UnitTest, str | None]:
    """The unit test that notices a mutant on this machine, and its check as FILE:LINE; None for
    that where the mutant does not end, or the board of variables ends it."""
    program, made = mutant.with_name("unit-tests"), mutant.with_suffix(".o")
    subprocess.run([*COMPILE, *options, "-c", mutant, "-o", made], check=True)
    subprocess.run(["gcc", "-o", program, *{**objects, mutant.name: made}.values()], check=True)
    told = program.with_suffix(".txt")
    with told.open("w") as errors:
        try:
            done = subprocess.run([program], stderr=errors, stdout=errors, check=False, timeout=10)
        except subprocess.TimeoutExpired:
            pass
        else:
            assert done.returncode != 0, "nothing notices it"
    said = told.read_text()
    subject, place = re.findall(r"(test_\w+)\.c test (\d+)", said)[-1]
    check = re.search(r"test_\w+\.c:\d+", said.splitlines()[-1])
    return UnitTest(subject, int(place)), None if check is None else check[0]


@pytest.mark.long
@pytest.mark.timeout(3600)
@pytest.mark.parametrize("name", MUTANTS)
def test_every_protection_is_missed_on_a_cortex_m0_too(
    name: str,
    telling: Callable[[str], dict[str, Path]],
    built_on_the_chip: Callable[[str], OnTheChip],
    tmp_path: Path,
) -> None:
    """By the same check of the same test as on this machine; the right core passes that test."""
    build = MUTANTS[name].get("built", "")
    file, old, new = (MUTANTS[name][part] for part in ("file", "old", "new"))
    mutant = tmp_path / file
    mutant.write_text(SOURCES[file].read_text().replace(old, new))
    test, check = what_misses_it(mutant, BUILDS[build], telling(build))
    chip = built_on_the_chip(build)
    most = TIMES * chip.instructions(test)
    code, said = chip.run(*test.chosen, changed=mutant, most=most)
    if check is None:
        assert code != 0
        return
    assert code == 1
    assert check in said


def test_what_the_chip_says_is_what_the_program_did(on_the_chip: OnTheChip, tmp_path: Path) -> None:
    """A part that is wrong is told from one that is right, by the line of its check."""
    changed = tmp_path / "text.c"
    text, guard = SOURCES["text.c"].read_text(), "(0xFFFFFFFFuL - digit)"
    assert guard in text
    changed.write_text(text.replace(guard, "0xFFFFFFFFuL"))
    code, said = on_the_chip.run("-DSUBJECTS=test_parts()", changed=changed)
    assert code == 1
    assert "test_parts.c:" in said, "a sum that wraps at 32 bits, as numbers do on the chip"
