"""The lock holds the whole development environment, and the list of parts is the lock's.

Both are made by `make lock`; a test that fails here says so by what is missing.
"""

from __future__ import annotations

import json
import re
import tomllib
from collections.abc import Iterator
from importlib.metadata import PackageNotFoundError, requires, version
from pathlib import Path

import pytest
from packaging.requirements import Requirement
from packaging.utils import NormalizedName, canonicalize_name

Pins = dict[NormalizedName, list[Requirement]]


@pytest.fixture(scope="module")
def pinned(root: Path) -> Pins:
    """Each line of the lock by its package; one package may have a line for each system."""
    pins: Pins = {}
    text = (root / "requirements-dev.txt").read_text().replace("\\\n", "")
    for line in re.findall(r"^[^\s#].*", text, re.M):
        what, *hashes = line.split("--hash=")
        assert hashes, line
        assert all(re.fullmatch(r"sha256:[0-9a-f]{64}\s*", each) for each in hashes)
        requirement = Requirement(what.strip())
        pins.setdefault(canonicalize_name(requirement.name), []).append(requirement)
    return pins


def pins_here(pins: Pins) -> dict[NormalizedName, str]:
    """The versions that are installed from the lock on this machine."""
    return {
        name: str(next(iter(line.specifier))).removeprefix("==")
        for name, lines in pins.items()
        for line in lines
        if line.marker is None or line.marker.evaluate()
    }


def asked_for(root: Path) -> Iterator[Requirement]:
    """What pyproject.toml asks for, to run, to build and to test; extras within extras followed."""
    project = tomllib.loads((root / "pyproject.toml").read_text())
    extras = project["project"]["optional-dependencies"]
    waiting = [*project["project"]["dependencies"], *project["build-system"]["requires"]]
    waiting += extras["test"]
    while waiting:
        requirement = Requirement(waiting.pop())
        if requirement.name == project["project"]["name"]:
            waiting += [each for extra in requirement.extras for each in extras[extra]]
        else:
            yield requirement


def test_the_lock_satisfies_what_the_project_asks_for(root: Path, pinned: Pins) -> None:
    here = pins_here(pinned)
    for requirement in asked_for(root):
        held = here.get(canonicalize_name(requirement.name))
        assert held is not None, f"{requirement} is not in the lock: make lock"
        assert requirement.specifier.contains(held, prereleases=True), f"{requirement}: make lock"


def test_nothing_that_those_packages_need_is_missing(root: Path, pinned: Pins) -> None:
    """Followed through what is installed here, not through the lock's own comments."""
    here = pins_here(pinned)
    waiting = [(canonicalize_name(each.name), frozenset(each.extras)) for each in asked_for(root)]
    seen = set()
    while waiting:
        name, extras = waiting.pop()
        if (name, extras) in seen:
            continue
        seen.add((name, extras))
        assert name in here, f"{name} is not in the lock: make lock"
        if _installed(name) == here[name]:  # another version may need other packages
            waiting += list(_needs(name, extras))


def _installed(name: NormalizedName) -> str | None:
    try:
        return version(name)
    except PackageNotFoundError:  # what only builds is installed while it builds
        return None


def _needs(
    name: NormalizedName, extras: frozenset[str]
) -> Iterator[tuple[NormalizedName, frozenset[str]]]:
    for text in requires(name) or []:
        need = Requirement(text)
        marker = need.marker
        if marker is None or any(marker.evaluate({"extra": extra}) for extra in extras | {""}):
            yield canonicalize_name(need.name), frozenset(need.extras)


def test_the_list_of_parts_is_that_of_the_lock(root: Path, pinned: Pins) -> None:
    parts = json.loads((root / "sbom.cdx.json").read_text())
    assert parts["bomFormat"] == "CycloneDX"
    listed = {canonicalize_name(one["name"]): one["version"] for one in parts["components"]}
    everywhere = {name for name, lines in pinned.items() if any(not one.marker for one in lines)}
    assert everywhere <= set(listed) <= set(pinned)
    for name, held in listed.items():
        assert any(line.specifier.contains(held, prereleases=True) for line in pinned[name])
