"""Schemas and pages written anew: ``python -m feedscript.documents.refresh``."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any, Final

from feedscript.documents.made import schemas
from feedscript.documents.page import pages
from feedscript.documents.shipped import FOLDER, file_of

PAGES: Final = Path(__file__).parents[2] / "shared" / "data"


def files() -> dict[Path, str]:
    """Every file with its content."""
    made = schemas()
    found = {FOLDER / file_of(name): as_text(one) for name, one in made.items()}
    return found | {PAGES / name: text for name, text in pages(made).items()}


def as_text(made: dict[str, Any]) -> str:
    """A schema as its file has it."""
    return json.dumps(made, indent=2, ensure_ascii=False) + "\n"


if __name__ == "__main__":
    wanted = files()
    for folder in (FOLDER, PAGES):
        folder.mkdir(parents=True, exist_ok=True)
        for path in set(folder.iterdir()) - set(wanted):
            path.unlink()
    for path, text in wanted.items():
        path.write_text(text, encoding="utf-8")
