"""One film for all tests of a file."""

from __future__ import annotations

import pytest

from tests.viewing.looked import small_film
from tests.watch.clips.shown import Shown


@pytest.fixture(scope="module")
def one(tmp_path_factory: pytest.TempPathFactory) -> Shown:
    return small_film(tmp_path_factory.mktemp("film"))
