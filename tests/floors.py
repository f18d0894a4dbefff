"""The picture of the floors in the contributor's guide, made from the walls that the tests hold.

After a change of the layers in ``pyproject.toml``, or of the folders on them:
``python -m tests.floors``.
"""

from __future__ import annotations

import tomllib
from pathlib import Path

from feedscript.review.drawing.palette import INK, PAPER, RULE, SOFT_INK
from feedscript.review.drawing.svg import Element, document, element, line, rectangle, text, write

ROOT = Path(__file__).resolve().parent.parent
PICTURE = ROOT / "shared" / "floors.svg"

WIDTH, FLOOR, GAP, MARGIN = 860.0, 40.0, 8.0, 20.0
NAMES = 190.0  # where the rooms begin


def floors() -> list[list[str]]:
    """From the top down: what stands on each floor, as the import contract has it."""
    contracts = tomllib.loads((ROOT / "pyproject.toml").read_text())["tool"]["importlinter"]
    layers = next(c["layers"] for c in contracts["contracts"] if c["type"] == "layers")
    return [layer.replace("|", ":").replace(" ", "").split(":") for layer in layers]


def rooms(name: str) -> list[str]:
    """The packages inside a floor's package."""
    inside = ROOT / "feedscript" / name
    return sorted(face.parent.name for face in inside.glob("*/__init__.py"))


def picture() -> str:
    """The SVG: a row a floor, the rooms of each beside its name, an arrow down at the left."""
    drawn: list[Element] = []
    rows = floors()
    for index, names in enumerate(rows):
        drawn += _floor(MARGIN + index * (FLOOR + GAP), names)
    bottom = MARGIN + len(rows) * (FLOOR + GAP)
    drawn += _arrow(MARGIN + 8.0, MARGIN, bottom - GAP)
    drawn.append(
        text(
            (MARGIN + 24.0, bottom + 14.0),
            "Each floor may import those below it, none above. Drivers and simulator stand beside.",
            font_size=12,
            fill=SOFT_INK,
        )
    )
    return write(document(WIDTH, bottom + 30.0, drawn, label="The floors of feedscript"))


def _floor(top: float, names: list[str]) -> list[Element]:
    left = MARGIN + 24.0
    box = rectangle((left, top), WIDTH - left - MARGIN, FLOOR, fill=PAPER, stroke=RULE, rx=4)
    middle = top + FLOOR / 2 + 5.0
    words = [text((left + 12.0, middle), ", ".join(names), font_size=14, fill=INK)]
    inside = [room for name in names for room in rooms(name)]
    if inside:
        words.append(text((left + NAMES, middle), ", ".join(inside), font_size=12, fill=SOFT_INK))
    return [box, *words]


def _arrow(x: float, top: float, bottom: float) -> list[Element]:
    head = element("path", d=f"M{x - 5} {bottom - 9} L{x} {bottom} L{x + 5} {bottom - 9}",
                   fill="none", stroke=SOFT_INK, stroke_width=1.5)  # fmt: skip
    return [line((x, top), (x, bottom), stroke=SOFT_INK, stroke_width=1.5), head]


def main() -> None:
    PICTURE.write_text(picture(), "utf-8")


if __name__ == "__main__":
    main()
