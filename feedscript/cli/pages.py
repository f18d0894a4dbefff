"""Every page there is: what each diagnostic's page says, wherever its rule lives.

A page stands beside what reports it, and all of them together are nearly every module there is. So
``slugs.json`` says of ours where each stands and what it is called: ``feedscript why SLUG`` imports
the one, its list and a shell that completes a slug none.
"""

from __future__ import annotations

import importlib
import pkgutil
from collections.abc import Iterable, Iterator
from functools import cache
from importlib.metadata import entry_points
from pathlib import Path
from types import ModuleType
from typing import Final

import msgspec

import feedscript
from feedscript.diagnostics import Page
from feedscript.launcher.port import ENTRY_POINT_GROUP

PLACES: Final = Path(__file__).with_name("slugs.json")


class PagePlace(msgspec.Struct, frozen=True):
    """What a page of ours is called, and the module in which it stands."""

    title: str
    module: str


@cache
def places() -> dict[str, PagePlace]:
    """Every page of ours by its slug, as ``python -m feedscript.cli.refresh`` wrote it down."""
    return msgspec.json.decode(PLACES.read_bytes(), type=dict[str, PagePlace])


def titles() -> dict[str, str]:
    """What every page is called, by its slug, those of others' drivers included."""
    found = {slug: page.title for slug, page in _pages_of_others().items()}
    found |= {slug: place.title for slug, place in places().items()}
    return dict(sorted(found.items()))


def page_of(slug: str) -> Page | None:
    """The page of this slug; None where there is none, or where its module needs an extra that is
    not installed."""
    place = places().get(slug)
    if place is None:
        return _pages_of_others().get(slug)
    module = _loaded(place.module)
    return None if module is None else pages_in([module]).get(slug)


def all_pages() -> dict[str, Page]:
    """Every page by its slug, those of installed launchers' drivers included. Imports everything
    that can be imported."""
    return dict(sorted(pages_in(modules_of(packages())).items()))


def _pages_of_others() -> dict[str, Page]:
    """Those of drivers that do not come with feedscript."""
    ours = {place.module.partition(".")[0] for place in places().values()}
    return pages_in(modules_of(one for one in packages() if one.__name__ not in ours))


def pages_in(modules: Iterable[ModuleType]) -> dict[str, Page]:
    """The pages that stand in these modules, or are named there, by their slugs."""
    found: dict[str, Page] = {}
    for module in modules:
        for value in vars(module).values():
            if isinstance(value, Page):
                found.setdefault(value.slug, value)
    return found


def packages() -> list[ModuleType]:
    """This one, and those of installed launchers' drivers."""
    points = entry_points(group=ENTRY_POINT_GROUP)
    names = (feedscript.__name__, *(point.module.partition(".")[0] for point in points))
    found = (_loaded(name) for name in dict.fromkeys(names))
    return [package for package in found if package is not None]


def modules_of(packages: Iterable[ModuleType]) -> Iterator[ModuleType]:
    """Every module of these packages that can be imported."""
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
