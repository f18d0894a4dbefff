"""The pictures in the repository show the programs as they are today."""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET

import pytest

from feedscript.shipped import shipped_folder, shipped_programs
from tests.review.drawing.draw_shipped import drawn, picture_of

LESSONS = [name for name in shipped_programs() if "/" not in name]
EXERCISES = [name for name in shipped_programs() if "/" in name]
_FIGURE = re.compile(r"-?\d+(?:\.\d+)?")


def parts(svg: bytes) -> list[tuple[str, str | None, list[str], list[float]]]:
    """Each element: its name, its words, its attributes without figures, and the figures."""
    found = []
    for element in ET.fromstring(svg).iter():
        written = [f"{key}={value}" for key, value in element.attrib.items()]
        figures = [float(f) for text in written for f in _FIGURE.findall(text.split("=", 1)[1])]
        found.append((element.tag, element.text, [_FIGURE.sub("#", t) for t in written], figures))
    return found


def assert_todays(name: str) -> None:
    """Figures may differ by a twentieth of a picture unit: other machines round otherwise."""
    today, kept = parts(drawn(name)), parts(picture_of(name).read_bytes())
    assert [part[:3] for part in today] == [part[:3] for part in kept], (
        "run python -m tests.review.drawing.draw_shipped"
    )
    for one, other in zip(today, kept, strict=True):
        assert one[3] == pytest.approx(other[3], abs=0.05), one[0]


@pytest.mark.parametrize("name", [*LESSONS, *EXERCISES[::6]])
def test_a_shipped_picture_is_the_one_that_draw_draws(name: str) -> None:
    assert_todays(name)


@pytest.mark.long
@pytest.mark.parametrize("name", EXERCISES)
def test_so_is_that_of_each_exercise(name: str) -> None:
    assert_todays(name)


def test_there_is_a_picture_of_each_program_and_no_other() -> None:
    pictures = {*shipped_folder().rglob("*.svg")}
    assert pictures == {picture_of(name) for name in shipped_programs()}
