"""The guide shows page, group's screen and report as they are."""

from __future__ import annotations

import pytest
from PIL import Image

from tests.conftest import ROOT
from tests.console.pictures import FOLDER, SIZES, taken_of
from tests.desk.pictures import TAKEN_OF
from tests.desk.test_pictures import FEWEST_COLOURS, MOST_BYTES


@pytest.mark.parametrize("name", SIZES)
def test_the_guide_shows_it_as_it_is(name: str) -> None:
    pages = (ROOT / "shared" / "guide").rglob("*.md")
    assert any(f"](../pictures/{name}.png)" in page.read_text("utf-8") for page in pages)
    path = FOLDER / f"{name}.png"
    assert path.stat().st_size < MOST_BYTES
    with Image.open(path) as image:
        assert image.size == tuple(SIZES[name].values())
        assert len(image.convert("RGB").getcolors(1 << 24) or ()) > FEWEST_COLOURS
        assert image.text[TAKEN_OF] == taken_of(name), "python -m tests.console.pictures"
