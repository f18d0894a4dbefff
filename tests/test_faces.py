"""Nobody imports past a package's face: what other floors may use is named in its ``__all__``."""

from __future__ import annotations

import importlib

import grimp
import pytest

ROOTS = ("feedscript", "feedscript_drivers", "feedscript_simulator")


def floor(module: str) -> str:
    """The floor a module stands on: a package of feedscript, or the drivers, or the simulator."""
    names = module.split(".")
    return ".".join(names[:2]) if names[0] == "feedscript" else names[0]


@pytest.fixture(scope="module")
def graph() -> grimp.ImportGraph:
    return grimp.build_graph(*ROOTS)


@pytest.fixture(scope="module")
def across(graph: grimp.ImportGraph) -> set[tuple[str, str]]:
    """Every import from one floor into a package of another: who, and what."""
    return {
        (importer, imported)
        for importer in graph.modules
        for imported in graph.find_modules_directly_imported_by(importer)
        if floor(importer) != floor(imported) and imported.count(".") > floor(imported).count(".")
    }


def face(package: str) -> set[str]:
    """What a package names as its own for others: modules, and what its ``__init__`` defines."""
    named = getattr(importlib.import_module(package), "__all__", ())
    return {f"{package}.{name}" for name in named}


def package_of(module: str) -> str:
    return module.rpartition(".")[0]


def test_nobody_imports_past_a_face(across: set[tuple[str, str]]) -> None:
    """Put the module into its package's ``__all__`` if others should build on it; else use what
    the package offers already."""
    past = {(who, what) for who, what in across if what not in face(package_of(what))}
    assert not past
    assert len(across) > 300  # they are looked for at all


def test_no_face_offers_a_module_that_nobody_takes(
    graph: grimp.ImportGraph, across: set[tuple[str, str]]
) -> None:
    packages = {package_of(module) for module in graph.modules} & graph.modules
    offered = {module for package in packages for module in face(package)} & graph.modules
    assert offered == {what for _, what in across}
