"""Where each diagnostic's page stands, written anew: ``python -m feedscript.cli.refresh``.

For developers, with every extra installed.
"""

from __future__ import annotations

import inspect
import json
from pathlib import Path
from types import ModuleType
from typing import Final

import msgspec

from feedscript.cli.pages import PLACES, PagePlace, modules_of, packages, pages_in
from feedscript.diagnostics import Page

ROOT: Final = Path(__file__).parents[2]


def as_written() -> str:
    """The file as it should be, one page a line."""
    lines = [
        f"{json.dumps(slug)}: {json.dumps(msgspec.to_builtins(place), ensure_ascii=False)}"
        for slug, place in sorted(_found().items())
    ]
    return "{\n" + ",\n".join(lines) + "\n}\n"


def _found() -> dict[str, PagePlace]:
    """Of modules that name a page the first that also spells its slug: there it is written."""
    found: dict[str, PagePlace] = {}
    ours = [one for one in packages() if ROOT in Path(inspect.getfile(one)).parents]
    for module in modules_of(ours):
        for slug, page in pages_in([module]).items():
            if _writes(module, page):
                found.setdefault(slug, PagePlace(page.title, module.__name__))
    return found


def _writes(module: ModuleType, page: Page) -> bool:
    return f'"{page.slug}"' in inspect.getsource(module)


if __name__ == "__main__":
    PLACES.write_text(as_written(), encoding="utf-8")
