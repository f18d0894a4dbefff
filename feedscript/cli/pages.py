"""Every page there is: what each diagnostic's page says, wherever its rule lives."""

from __future__ import annotations

import importlib
import pkgutil
from collections.abc import Iterator
from importlib.metadata import entry_points
from types import ModuleType

import feedscript
from feedscript.diagnostics import Page
from feedscript.launcher.port import ENTRY_POINT_GROUP


def all_pages() -> dict[str, Page]:
    """Every page by its slug, those of installed launchers' drivers included."""
    found: dict[str, Page] = {}
    for module in _modules():
        for value in vars(module).values():
            if isinstance(value, Page):
                found.setdefault(value.slug, value)
    return dict(sorted(found.items()))


def _modules() -> Iterator[ModuleType]:
    packages = [feedscript]
    for point in entry_points(group=ENTRY_POINT_GROUP):
        package = _loaded(point.module.partition(".")[0])
        if package is not None and package not in packages:
            packages.append(package)
    for package in packages:
        yield package
        for module in pkgutil.walk_packages(package.__path__, package.__name__ + "."):
            if module.name.rpartition(".")[2] == "__main__":
                continue
            loaded = _loaded(module.name)
            if loaded is not None:
                yield loaded


def _loaded(name: str) -> ModuleType | None:
    """The module; None where it needs an extra that is not installed."""
    try:
        return importlib.import_module(name)
    except ImportError:
        return None
