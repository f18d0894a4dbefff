"""One server with desks for all of these tests: a desk takes seconds to begin."""

from __future__ import annotations

from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import closing

import pytest

from feedscript.club.store.store import open_store
from tests.club.desks.stage import AtDesks, at_desks


@pytest.fixture(scope="session")
def stage(tmp_path_factory: pytest.TempPathFactory) -> Iterator[AtDesks]:
    """With everybody at their desks already."""
    path = tmp_path_factory.mktemp("desks") / "club.sqlite"
    with closing(open_store(path)) as store, at_desks(store) as served:
        everybody = (served.kim, served.lee, served.head)
        with ThreadPoolExecutor(len(everybody)) as pool:
            begun = list(pool.map(lambda one: served.page(one).get("/first-lesson"), everybody))
        assert [one.status_code for one in begun] == [200, 200, 200]
        yield served
