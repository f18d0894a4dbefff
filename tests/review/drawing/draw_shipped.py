"""Draws the pictures that are shipped anew: of each program, and of each exercise of the library.

``python -m tests.review.drawing.draw_shipped [NAME ...]`` writes what has changed.
"""

from __future__ import annotations

import sys
from pathlib import Path

from feedscript.check.check_program import check_program
from feedscript.review.drawing.files import draw_plan
from feedscript.shipped import program_path, shipped_folder, shipped_programs

WIDTH = 1600


def picture_of(name: str) -> Path:
    """Where the picture of a shipped program stands: in the folder of pictures beside it."""
    path = shipped_folder() / name
    return path.parent / "pictures" / f"{path.name}.svg"


def drawn(name: str) -> bytes:
    """The picture of a shipped program as ``feedscript draw`` makes it."""
    facts = check_program(program_path(name)).facts
    assert facts is not None, name
    made = draw_plan(facts, ".svg", WIDTH)
    assert isinstance(made, bytes)
    return made


if __name__ == "__main__":
    for asked in sys.argv[1:] or shipped_programs():
        picture_of(asked).write_bytes(drawn(asked))
