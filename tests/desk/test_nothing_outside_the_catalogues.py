"""The desk in a language that puts every word of ours between marks: nothing else is to be read on
it but the program's words, which all begin with "xq", numbers, and how languages call themselves.

What the language says of a program stays English: what the check finds, the rules.
"""

from __future__ import annotations

from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from pathlib import Path

import anyio
import pytest
import uvicorn
from playwright.async_api import Page, expect

from feedscript.console.access import Access, Role
from feedscript.console.listening import listen
from feedscript.desk.app import Desk, make_app
from feedscript.desk.files import Folder
from feedscript.session.engine.wall_clock import elapsed_s
from tests.console.browser import SCREEN, chromium, new_page
from tests.console.test_nothing_outside_the_catalogues import SEEN
from tests.tongues import pseudo
from tests.tongues.test_nothing_outside import PROGRAM, left_over

pytestmark = pytest.mark.anyio

#: Takes out what is the language's own, or another's: the editor, diagnostics, shipped programs.
WITHOUT = """() => {
  const theirs = "#editor, #findings, #expected .expected, #shipped-list, "
    + "#hour .block, .line-about, #first, .reading, #court-launchers option";
  for (const one of document.querySelectorAll(theirs)) one.remove();
}"""
#: The project's name, and what a first lesson may be made of: words of the language.
OURS = {"feedscript", "desk", "qps"}
#: What a plan calls the coach's ground, that of a station, and what left-handers get: names by
#: which page and words know things.
NAMES = {"coach", "station", "left", "hander", "garage", "serial", "DEVICE", "tcp", "HOST", "PORT",
         "ble", "NAME", "sim"}  # fmt: skip


@pytest.fixture
def anyio_backend() -> str:
    return "asyncio"


@asynccontextmanager
async def served(folder: Path, tongues: Path) -> AsyncIterator[str]:
    """The desk in this process, in every language and in the one of marks."""
    access = Access(elapsed_s)
    desk = Desk(Folder(folder), access, tongues=pseudo.with_marks(tongues))
    app = make_app(desk, ("127.0.0.1",))
    listening = listen(on_court_network=False, port=0)
    server = uvicorn.Server(uvicorn.Config(app, log_level="error", ws="websockets-sansio"))
    async with anyio.create_task_group() as tasks:
        tasks.start_soon(server.serve, [listening.socket])
        with anyio.fail_after(30):
            while not server.started:
                await anyio.sleep(0.01)
        yield f"http://{listening.reached}/#{access.new_code(Role.COACH)}"
        server.should_exit = True


async def left_on(page: Page) -> set[str]:
    await page.evaluate(WITHOUT)
    return {text for text in await page.evaluate(SEEN) if _ours_outside(text)}


def _ours_outside(text: str) -> bool:
    found = left_over([text], OURS | NAMES)
    return any(not one.casefold().startswith("xq") for one in found)


async def test_the_page_for_strangers(tmp_path: Path) -> None:
    async with chromium() as browser, served(tmp_path, tmp_path) as link:
        page = await new_page(browser, SCREEN, [], pseudo.LANGUAGE)
        await page.goto(link.partition("#")[0])
        await expect(page.locator("#pair")).to_be_visible(timeout=30_000)
        assert await left_on(page) == set()


async def test_the_desk_with_a_program_played_and_its_dialogs_open(tmp_path: Path) -> None:
    folder, trouble = tmp_path / "own", []
    folder.mkdir()
    (folder / "xqlesson.feed").write_bytes(PROGRAM.read_bytes())
    async with chromium() as browser, served(folder, tmp_path) as link:
        page = await new_page(browser, SCREEN, trouble, pseudo.LANGUAGE)
        await page.goto(link)
        await expect(page.locator("#feeds button").first).to_be_visible(timeout=30_000)
        await page.locator("#feeds button").first.click()
        await expect(page.locator("#sliders input").first).to_be_attached(timeout=30_000)
        await page.locator(".play-begin").click()
        await expect(page.locator(".play-row")).to_be_visible(timeout=30_000)
        await expect(page.locator("#hour .block").first).to_be_attached(timeout=30_000)
        await page.locator("#to-court").click()
        await expect(page.locator("#court-launchers label").first).to_be_attached(timeout=30_000)
        await page.evaluate("document.querySelector('#on-court').close()")
        await page.locator("#choose").click()
        await expect(page.locator("#own-list li").first).to_be_attached(timeout=30_000)
        assert not trouble  # before things are taken out of the page
        assert await left_on(page) == set()
