"""What the README promises holds: its program passes, its commands exist, its links lead on."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from feedscript.check.check_program import check_program
from feedscript.cli import COMMANDS
from tests.conftest import ROOT

PAGES = ("README.md", "DEVELOPERS.md", "SECURITY.md")


def test_the_program_of_the_readme_passes(root: Path) -> None:
    programs = re.findall(r"```feedscript\n(.*?)```", (root / "README.md").read_text("utf-8"), re.S)
    assert programs
    for text in programs:
        verdict = check_program(Path("readme.feed"), text=text)
        assert verdict.ok, [diagnostic.message for diagnostic in verdict.diagnostics]


@pytest.mark.parametrize("page", PAGES)
def test_every_command_named_exists(page: str, root: Path) -> None:
    named = set(re.findall(r"feedscript ([a-z][a-z-]+)\b", (root / page).read_text("utf-8")))
    prose = {"covers", "lets", "refers", "is", "will", "makes"}
    assert named - prose <= set(COMMANDS)


#: Pages of the site alone lead to some that are made with it; tests/test_guide.py follows them.
LINKED = sorted(
    path.relative_to(ROOT).as_posix()
    for path in ROOT.rglob("*.md")
    if not any(part.startswith(".") or part == "build" for part in path.relative_to(ROOT).parts)
    and not path.is_relative_to(ROOT / "shared" / "guide")
)


@pytest.mark.parametrize("page", LINKED)
def test_every_link_leads_to_something_here(page: str) -> None:
    targets = re.findall(r"\]\(([^)#\s]+)\)", (ROOT / page).read_text("utf-8"))
    there = (ROOT / page).parent
    assert [target for target in targets if not (there / target).exists()] == []
