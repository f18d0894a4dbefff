"""The README shows the desk as it is: two pictures, each of its size and of what stands now."""

from __future__ import annotations

import pytest
from PIL import Image

from tests.conftest import ROOT
from tests.desk.pictures import PICTURES, TAKEN_OF, Picture, taken_of

#: A page that did not load is one colour and a few lines.
FEWEST_COLOURS = 60
MOST_BYTES = 300_000


@pytest.mark.parametrize("picture", PICTURES, ids=lambda one: one.name)
def test_the_readme_shows_the_desk_as_it_is(picture: Picture) -> None:
    readme = (ROOT / "README.md").read_text("utf-8")
    assert f"]({picture.path.relative_to(ROOT).as_posix()})" in readme
    assert picture.path.stat().st_size < MOST_BYTES
    with Image.open(picture.path) as image:
        assert image.size == (picture.width * picture.scale, picture.height * picture.scale)
        assert len(image.convert("RGB").getcolors(1 << 24) or ()) > FEWEST_COLOURS
        assert image.text[TAKEN_OF] == taken_of(), "take them anew: python -m tests.desk.pictures"  # type: ignore[attr-defined]
