"""One browser, and one rehearsed lesson, for the overview's tests."""

from __future__ import annotations

from collections.abc import AsyncIterator

import pytest
from playwright.async_api import Browser

from feedscript.club.batch import Part
from tests.club.overview.courts import rehearsed
from tests.console.browser import chromium


@pytest.fixture(scope="session")
def lesson(tmp_path_factory: pytest.TempPathFactory) -> Part:
    """Two launchers at two stations."""
    return rehearsed(tmp_path_factory.mktemp("rehearsed"), "side-by-side")


@pytest.fixture(scope="module")
def anyio_backend() -> str:
    return "asyncio"


@pytest.fixture(scope="module")
async def browser(anyio_backend: str) -> AsyncIterator[Browser]:
    async with chromium() as browser:
        yield browser
