"""A coach's whole way: from an empty folder to a lesson of an hour that is armed on court.

Nobody opens a manual or a terminal on it; every click, field, drag and key is counted.
"""

from __future__ import annotations

import re
from collections.abc import Awaitable
from pathlib import Path

import pytest
from playwright.async_api import Page, expect

from tests.console.browser import chromium
from tests.desk.desk_process import desk_on
from tests.desk.on_the_court_side import set_up_and_go

pytestmark = [pytest.mark.anyio, pytest.mark.real_time]

#: The goal, set before anything was built.
MOST_ACTIONS = 40
PATIENCE_MS = 60_000


@pytest.fixture
def anyio_backend() -> str:
    return "asyncio"


class Actions:
    """What was done, each thing once."""

    def __init__(self) -> None:
        self.done: list[str] = []

    async def take(self, what: str, action: Awaitable[object]) -> None:
        await action
        self.done.append(what)


async def drag(page: Page, feed: str, right_m: float, down_m: float) -> None:
    """The landing of a feed, by so many metres of the picture."""
    mark = page.locator(f'#above .feed[aria-label*="{feed}"] .hit').first
    box = await mark.bounding_box()
    assert box is not None
    x, y = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
    metre = await page.evaluate("document.getElementById('above').getScreenCTM().a")
    await page.mouse.move(x, y)
    await page.mouse.down()
    await page.mouse.move(x + right_m * metre / 2, y + down_m * metre / 2)
    await page.mouse.move(x + right_m * metre, y + down_m * metre)
    await page.mouse.up()


async def write_a_lesson(desk: Page, do: Actions) -> None:
    """From the question that the desk asks in an empty folder to a lesson of five exercises that
    passes."""
    await expect(desk.locator("#verdict")).to_contain_text("it passes", timeout=PATIENCE_MS)
    await expect(desk.locator("#first[open]")).to_be_visible()
    await expect(desk.locator("#first-who option")).not_to_have_count(0)
    await do.take("the stage", desk.select_option("#first-who", "yellow"))
    await do.take("Lay out a lesson", desk.click("#first-make"))
    await expect(desk.locator("#title")).to_contain_text("first lesson", timeout=PATIENCE_MS)
    await expect(desk.locator("#verdict")).to_contain_text("it passes", timeout=PATIENCE_MS)


async def change_two_feeds(desk: Page, folder: Path, do: Actions) -> None:
    before = (folder / "first lesson.feed").read_text("utf-8")
    assert len(re.findall(r"^    \w+\.\w+\(", before, re.MULTILINE)) == 5
    assert "lesson of 60 min" in before
    for feed, right_m in (("first_returns_ball", -0.4), ("step_in_ball", -0.5)):
        await do.take(f"drag {feed}", drag(desk, feed, right_m, 0.0))
        await expect(desk.locator(".cm-content")).to_contain_text(
            re.compile(rf"feed {feed} = [\w.]+ with {{[^}}]*land ")
        )
        await expect(desk.locator("#verdict")).to_contain_text("it passes", timeout=PATIENCE_MS)
    await expect(desk.locator("#kept")).to_have_text("saved")
    assert (folder / "first lesson.feed").read_text("utf-8").count("    land ") == 2


async def print_and_play(desk: Page, do: Actions) -> None:
    async with desk.context.expect_page() as opened:
        await do.take("Sheet", desk.click("#sheet"))
    sheet = await opened.value
    await expect(sheet.locator("h1")).to_contain_text("A first lesson")
    await do.take("print it", sheet.pdf())
    await do.take("back to the desk", sheet.close())
    await do.take("Play the lesson", desk.get_by_role("button", name="Play the lesson").click())
    await expect(desk.locator("#play .play-clock")).to_be_visible(timeout=PATIENCE_MS)
    await do.take("as fast as it goes", desk.locator("#play select").first.select_option("60"))
    await expect(desk.locator("#above .ball").first).to_be_visible(timeout=PATIENCE_MS)
    await do.take("Pause", desk.locator("#play .play-go").click())


async def go_on_court(desk: Page, do: Actions) -> Page:
    await do.take("On court", desk.click("#to-court"))
    await expect(desk.locator("#court-go")).to_be_enabled(timeout=PATIENCE_MS)
    await do.take("Go to the launcher", desk.click("#court-go"))
    its_page = desk.get_by_role("button", name="Open its page")
    await expect(its_page).to_be_visible(timeout=PATIENCE_MS)
    async with desk.context.expect_page() as opened:
        await do.take("Open its page", its_page.click())
    court_side = await opened.value
    await court_side.wait_for_selector("#take")
    await set_up_and_go(court_side, do.done.append)
    return court_side


async def close_both_tabs(desk: Page, court_side: Page, address: str) -> tuple[Page, Page]:
    """A tab is no hand: the lesson goes on, and both are had again."""
    context = desk.context
    await desk.close()
    await court_side.close()
    desk = await context.new_page()
    await desk.goto(address)
    its_page = desk.get_by_role("button", name="Open its page")
    await expect(its_page).to_be_visible(timeout=PATIENCE_MS)
    async with context.expect_page() as opened:
        await its_page.click()
    court_side = await opened.value
    await court_side.wait_for_selector('[data-control="hold"]:enabled')
    return desk, court_side


@pytest.mark.timeout(240)
async def test_from_an_empty_folder_to_a_lesson_that_is_armed_on_court(tmp_path: Path) -> None:
    do, trouble = Actions(), []
    async with chromium() as browser:
        with desk_on(tmp_path) as link:
            context = await browser.new_context(viewport={"width": 1280, "height": 800})
            context.on("weberror", lambda error: trouble.append(str(error.error)))
            desk = await context.new_page()
            await do.take("open the desk", desk.goto(link))
            await write_a_lesson(desk, do)
            await change_two_feeds(desk, tmp_path, do)
            await print_and_play(desk, do)
            court_side = await go_on_court(desk, do)
            assert len(do.done) < MOST_ACTIONS, do.done
            desk, court_side = await close_both_tabs(desk, court_side, link.split("#")[0])
            await court_side.click("#stop")
            await court_side.wait_for_selector('[data-control="quit"]:enabled')
            await court_side.wait_for_timeout(450)
            await court_side.click('[data-control="quit"]')
            review = desk.get_by_role("link", name="Its review")
            await expect(review).to_be_visible(timeout=PATIENCE_MS)
            async with context.expect_page() as opened:
                await review.click()
            await expect((await opened.value).locator("h1")).to_contain_text("A first lesson")
    assert trouble == []
