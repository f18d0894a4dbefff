"""Which module of drivers and simulator uses which, and what none of them may need."""

from __future__ import annotations

from graphlib import CycleError, TopologicalSorter

import grimp
import pytest

PACKAGES = ("feedscript_drivers", "feedscript_simulator")


def uses_of(graph: grimp.ImportGraph, package: str) -> dict[str, set[str]]:
    """Each module with those that it imports, for the type checker alone or not."""
    within = {module for module in graph.modules if module.startswith(package)}
    return {module: graph.find_modules_directly_imported_by(module) & within for module in within}


def circle(uses: dict[str, set[str]]) -> list[str]:
    try:
        TopologicalSorter(uses).prepare()
    except CycleError as found:
        ring: list[str] = found.args[1]
        return ring
    return []


@pytest.fixture(scope="module")
def graph() -> grimp.ImportGraph:
    return grimp.build_graph(*PACKAGES, include_external_packages=True, cache_dir=None)


@pytest.mark.parametrize("package", PACKAGES)
def test_no_modules_import_each_other(graph: grimp.ImportGraph, package: str) -> None:
    uses = uses_of(graph, package)
    assert any(uses.values())
    assert circle(uses) == []


def test_a_circle_would_be_found(graph: grimp.ImportGraph) -> None:
    package = "feedscript_simulator"
    uses = uses_of(graph, package)
    uses[f"{package}.commands"].add(f"{package}.far_end")
    assert {f"{package}.commands", f"{package}.far_end"} <= set(circle(uses))


def test_what_ships_needs_no_bluetooth_in_software(graph: grimp.ImportGraph) -> None:
    assert "bleak" in graph.modules, "imports within functions are seen"
    assert "bumble" not in graph.modules


def test_records_are_all_of_one_kind(graph: grimp.ImportGraph) -> None:
    """A msgspec Struct; the standard library's own kind is not used beside it."""
    assert graph.find_modules_that_directly_import("msgspec") >= {"feedscript_drivers.wire.codec"}
    assert "dataclasses" not in graph.modules
