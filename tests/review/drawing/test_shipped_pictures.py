"""The pictures in the repository show the programs as they are today."""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET
from pathlib import Path

import pytest

from feedscript.check.check_program import check_program
from feedscript.review.drawing.files import draw_plan
from feedscript.shipped import program_path, shipped_folder

PICTURES = sorted((shipped_folder() / "pictures").glob("*.svg"))
_FIGURE = re.compile(r"-?\d+(?:\.\d+)?")


def parts(svg: bytes) -> list[tuple[str, str | None, list[str], list[float]]]:
    """Each element: its name, its words, its attributes without figures, and the figures."""
    found = []
    for element in ET.fromstring(svg).iter():
        written = [f"{key}={value}" for key, value in element.attrib.items()]
        figures = [float(f) for text in written for f in _FIGURE.findall(text.split("=", 1)[1])]
        found.append((element.tag, element.text, [_FIGURE.sub("#", t) for t in written], figures))
    return found


@pytest.mark.parametrize("path", PICTURES, ids=lambda path: path.stem)
def test_a_shipped_picture_is_the_one_that_show_draws(path: Path) -> None:
    """Figures may differ by a twentieth of a picture unit: other machines round otherwise.

    When a program or a view has changed: feedscript draw NAME -o programs/pictures/NAME.svg
    """
    verdict = check_program(program_path(path.stem))
    assert verdict.facts is not None
    drawn = draw_plan(verdict.facts, ".svg", 1600)
    assert isinstance(drawn, bytes)
    today, kept = parts(drawn), parts(path.read_bytes())
    assert [part[:3] for part in today] == [part[:3] for part in kept]
    for one, other in zip(today, kept, strict=True):
        assert one[3] == pytest.approx(other[3], abs=0.05), one[0]


def test_there_is_a_picture_of_each_main_program() -> None:
    programs = {path.stem for path in shipped_folder().glob("*.feed")}
    assert programs == {path.stem for path in PICTURES}
