"""A console in front of a lesson that only remembers, and clients paired with it."""

from __future__ import annotations

from collections.abc import AsyncIterator, Iterator
from dataclasses import dataclass

import pytest
from playwright.async_api import Browser
from starlette.testclient import TestClient

from feedscript.console.access import Access, Role
from feedscript.console.app import make_app
from feedscript.console.broadcast import Broadcast
from feedscript.console.socket import Console
from tests.console.browser import chromium
from tests.console.lesson import RememberingLesson
from tests.console.sent_along import as_its_page

ORIGIN = "http://testserver"


@dataclass
class Stage:
    """The console, the lesson behind it, and a browser that is not paired yet."""

    lesson: RememberingLesson
    access: Access
    console: Console
    client: TestClient

    def pair(self, role: Role) -> None:
        """Pair the client as a browser's page would."""
        answer = self.client.post(
            "/pair",
            json={"code": self.access.new_code(role), "name": role.value},
            headers={"Origin": ORIGIN},
        )
        as_its_page(self.client, answer)


@pytest.fixture
def stage() -> Iterator[Stage]:
    clock = iter(range(10**9))
    lesson = RememberingLesson()
    access = Access(lambda: float(next(clock)) / 1000)
    console = Console(
        lesson, access, Broadcast(lesson), lambda tongue: f"<h1>REVIEW {tongue.language}</h1>"
    )
    console.broadcast._take(lesson.view)
    app = make_app(console, ("testserver",), ORIGIN)
    with TestClient(app) as client:
        yield Stage(lesson, access, console, client)


@pytest.fixture(scope="module")
def anyio_backend() -> str:
    return "asyncio"


@pytest.fixture(scope="module")
async def one_chromium(anyio_backend: str) -> AsyncIterator[Browser]:
    async with chromium() as browser:
        yield browser


@pytest.fixture
async def browser(one_chromium: Browser) -> AsyncIterator[Browser]:
    """A browser without pages, and left without pages."""
    yield one_chromium
    for context in list(one_chromium.contexts):
        await context.close()
