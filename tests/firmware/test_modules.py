"""Which module of the firmware uses which, read from its sources and its compiled objects."""

from __future__ import annotations

import re
import subprocess
from collections.abc import Iterable
from graphlib import CycleError, TopologicalSorter
from pathlib import Path

import pytest

from tests.firmware.far_end import FIRMWARE

CORE = FIRMWARE / "core"
HARNESS = FIRMWARE / "harness"
#: From the bottom up; in the folder of all of them lie what everybody stands on, and what ties the
#: whole together.
FOLDERS = ("wire", "sensing", "guard", "store", "link", "motion", "feeding", "commands")

Uses = dict[str, set[str]]


def includes(sources: Iterable[Path]) -> Uses:
    """Each module with those whose headers it reads."""
    uses: Uses = {}
    for source in sources:
        read = re.findall(r'^#include "(?:\w+/)*(\w+)\.h"', source.read_text(), re.M)
        uses.setdefault(source.stem, set()).update(set(read) - {source.stem})
    return uses


def calls(sources: Iterable[Path], folder: Path) -> Uses:
    """Each module with those whose functions and variables its object asks for."""
    defined: dict[str, str] = {}
    asked: Uses = {}
    for source in sources:
        made = folder / f"{source.stem}.o"
        subprocess.run(
            ["gcc", "-std=gnu11", "-w", f"-I{CORE}", "-iquote", HARNESS, "-c", source, "-o", made],
            check=True,
        )
        told = subprocess.run(["nm", "-P", made], check=True, capture_output=True, text=True)
        for name, kind, *_ in (line.split() for line in told.stdout.splitlines()):
            if kind == "U":
                asked.setdefault(source.stem, set()).add(name)
            elif kind.isupper():
                defined[name] = source.stem
    return {
        module: {defined[name] for name in names if name in defined} - {module}
        for module, names in asked.items()
    }


def circle(uses: Uses) -> list[str]:
    """Modules that use each other in a ring, or none."""
    try:
        TopologicalSorter(uses).prepare()
    except CycleError as found:
        ring: list[str] = found.args[1]
        return ring
    return []


def together(*several: Uses) -> Uses:
    whole: Uses = {}
    for uses in several:
        for module, used in uses.items():
            whole.setdefault(module, set()).update(used)
    return whole


def sources_of(folder: Path) -> list[Path]:
    headers = {header.stem for header in folder.rglob("*.h")}
    assert headers, folder
    return [*sorted(folder.rglob("*.h")), *sorted(folder.rglob("*.c"))]


def uses_of(folder: Path, objects: Path) -> Uses:
    # What runs under simavr needs its headers, which only its own image is built with.
    sources = [source for source in sources_of(folder) if source.stem != "avr_main"]
    compiled = [source for source in sources if source.suffix == ".c"]
    return together(includes(sources), calls(compiled, objects))


@pytest.mark.parametrize("folder", [CORE, HARNESS], ids=["core", "harness"])
def test_no_modules_use_each_other(folder: Path, tmp_path: Path) -> None:
    uses = uses_of(folder, tmp_path)
    assert any(uses.values())
    assert circle(uses) == []


def test_a_circle_of_calls_or_of_headers_would_be_found(tmp_path: Path) -> None:
    (tmp_path / "a.c").write_text("void b(void); void a(void) { b(); }")
    (tmp_path / "b.c").write_text("void a(void); void b(void) { a(); }")
    sources = sorted(tmp_path.glob("*.c"))
    assert circle(calls(sources, tmp_path))
    (tmp_path / "a.h").write_text('#include "inner/b.h"')
    (tmp_path / "b.h").write_text('#include "a.h"')
    assert circle(includes(sorted(tmp_path.glob("*.h"))))


def test_a_folder_uses_those_below_it_only() -> None:
    assert {path.name for path in CORE.iterdir() if path.is_dir()} == set(FOLDERS)
    for height, folder in enumerate(FOLDERS):
        for source in sources_of(CORE / folder):
            used = set(re.findall(r'^#include "(\w+)/', source.read_text(), re.M))
            assert used <= set(FOLDERS[: height + 1]), source.name
            assert "launcher.h" not in source.read_text(), source.name
