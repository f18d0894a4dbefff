"""Where the desks under test keep lessons: for each file of tests in a folder of its own."""

from __future__ import annotations

from collections.abc import Iterator

import pytest


@pytest.fixture(scope="module", autouse=True)
def _lessons_of_its_own(tmp_path_factory: pytest.TempPathFactory) -> Iterator[None]:
    """A lesson begun from a desk goes to the journal of the user, where other tests look."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("XDG_DATA_HOME", str(tmp_path_factory.mktemp("data")))
        yield
