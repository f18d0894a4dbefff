"""The contributor's guide shows the code as it is: every folder, and no folder grown too full."""

from __future__ import annotations

import ast
import re
import statistics
from collections.abc import Iterator
from pathlib import Path

from tests.floors import PICTURE, picture

PACKAGES = ("feedscript", "drivers/feedscript_drivers", "simulator/feedscript_simulator")
#: A folder with more modules than this wants rooms of its own; rules are one a module.
MOST_MODULES = 20
#: No function is longer, and half of them are no longer than the second.
MOST_LINES, USUAL_LINES = 50, 8
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


def lengths(root: Path) -> dict[str, int]:
    """Lines of every function, signature and docstring among them."""
    return {
        f"{path.relative_to(root)}:{node.lineno} {node.name}": (node.end_lineno or 0)
        - node.lineno
        + 1
        for package in PACKAGES
        for path in (root / package).rglob("*.py")
        for node in ast.walk(ast.parse(path.read_text("utf-8")))
        if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef)
    }


def test_functions_are_short(root: Path) -> None:
    lines = lengths(root)
    assert [name for name, length in lines.items() if length > MOST_LINES] == []
    assert statistics.median(lines.values()) <= USUAL_LINES


def test_the_picture_of_the_floors_is_drawn_from_the_walls() -> None:
    """After a change: python -m tests.floors"""
    assert PICTURE.read_text("utf-8") == picture()


def modules(root: Path) -> dict[str, Path]:
    """Every module by its dotted name; a package by its face."""
    found = {}
    for package in PACKAGES:
        above = (root / package).parent
        for path in (root / package).rglob("*.py"):
            parts = path.relative_to(above).with_suffix("").parts
            found[".".join(parts[:-1] if parts[-1] == "__init__" else parts)] = path
    return found


def imported(path: Path, known: dict[str, Path]) -> Iterator[str]:
    """The project's modules that a module names in its imports, wherever they stand in it."""
    for node in ast.walk(ast.parse(path.read_text("utf-8"))):
        if isinstance(node, ast.Import):
            yield from (one.name for one in node.names if one.name in known)
        elif isinstance(node, ast.ImportFrom) and node.module in known:
            for one in node.names:
                within = f"{node.module}.{one.name}"
                yield within if within in known else node.module


def in_circles(reaches: dict[str, set[str]]) -> set[str]:
    """The modules from which a way of imports leads back to themselves."""
    found = set()
    for start, firsts in reaches.items():
        seen, ahead = set(firsts), list(firsts)
        while ahead:
            new = reaches[ahead.pop()] - seen
            seen |= new
            ahead += new
        found |= {start} & seen
    return found


def test_no_module_imports_what_imports_it(root: Path) -> None:
    known = modules(root)
    assert len(known) > 300
    reaches = {name: set(imported(path, known)) for name, path in known.items()}
    assert not in_circles(reaches)


def test_a_circle_is_seen() -> None:
    reaches = {"a": {"b"}, "b": {"c"}, "c": {"b"}, "d": {"a"}}
    assert in_circles(reaches) == {"b", "c"}
