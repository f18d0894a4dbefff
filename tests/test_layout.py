"""The contributor's guide shows the code as it is: every folder, and no folder grown too full."""

from __future__ import annotations

import re
from pathlib import Path

from tests.floors import PICTURE, picture

PACKAGES = ("feedscript", "drivers/feedscript_drivers", "simulator/feedscript_simulator")
#: A folder with more modules than this wants rooms of its own; rules are one a module.
MOST_MODULES = 20
RULES = "feedscript/safety/rules"


def folders(root: Path) -> dict[str, int]:
    """Every folder of modules, and how many there are in it beside the face."""
    found = {}
    for package in PACKAGES:
        for face in sorted((root / package).rglob("__init__.py")):
            modules = [one for one in face.parent.glob("*.py") if one.name != "__init__.py"]
            found[face.parent.relative_to(root).as_posix()] = len(modules)
    return found


def test_every_folder_stands_in_the_guide_and_nothing_else_does(root: Path) -> None:
    guide = (root / "DEVELOPERS.md").read_text("utf-8")
    told = set(re.findall(r"^\| `([a-z_/]+)/` \|", guide, re.M))
    there = {folder for folder in folders(root) if folder not in ("feedscript", PACKAGES[1])}
    assert told == there


def test_no_folder_is_too_full(root: Path) -> None:
    full = {folder: count for folder, count in folders(root).items() if count > MOST_MODULES}
    assert set(full) <= {RULES}


def test_the_picture_of_the_floors_is_drawn_from_the_walls() -> None:
    """After a change: python -m tests.floors"""
    assert PICTURE.read_text("utf-8") == picture()
