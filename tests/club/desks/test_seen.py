"""A coach's day with a tablet and a phone, in a browser: written, handed to a court, reviewed."""

from __future__ import annotations

import pytest
from playwright.async_api import Browser, Page, expect

from tests.club.desks.stage import AtDesks, program
from tests.club.people.stage import PASSWORD
from tests.console.accessible import violations
from tests.console.browser import PHONE, TOO_SMALL, TOO_WIDE, chromium, new_page

TABLET = {"width": 1024, "height": 768}


@pytest.fixture
def anyio_backend() -> str:
    return "asyncio"


@pytest.fixture
def ready(stage: AtDesks) -> AtDesks:
    """A text of the club's library that was approved."""
    made = stage.shelf.add("deep", program("Deep, from the club"), "Invented.", stage.lee)
    stage.shelf.approve(made.sha256, "Invented.", stage.kim)
    return stage


async def sound(page: Page) -> None:
    """Nothing is cut off or too small for a thumb, and axe has nothing to say."""
    await page.wait_for_load_state()
    assert await page.evaluate(TOO_WIDE) == []
    assert await page.evaluate(TOO_SMALL) == []
    assert await violations(page) == {}


async def signed_in(page: Page, url: str) -> None:
    await page.goto(url)
    await page.locator("#login").fill("kim@club.example")
    await page.locator("#password").fill(PASSWORD)
    await page.keyboard.press("Enter")
    await expect(page.locator("header .who")).to_have_text("kim")


async def written(page: Page) -> None:
    """A text of the library is copied, changed, and checked while it is written."""
    await page.get_by_role("link", name="My programs").click()
    await page.get_by_role("link", name="To the desk").click()
    await expect(page.locator("#title")).not_to_have_text("…")
    await page.locator("#choose").click()
    await page.get_by_role("button", name="Deep, from the club").click()
    await page.get_by_role("button", name="Copy it, to change it").click()
    # The library's own is called so too, and passes: what can be kept is the copy.
    await expect(page.locator("#kept")).to_have_text("saved")
    await expect(page.locator("#title")).to_have_text("deep")
    await expect(page.locator("#verdict")).to_contain_text("it passes")
    await page.locator(".cm-content").click()
    await page.keyboard.press("Control+Home")
    await page.keyboard.press("End")
    await page.keyboard.type("\n# by a tablet")
    await expect(page.locator("#kept")).to_have_text("saved")
    await expect(page.locator("#to-court")).to_be_hidden()
    assert await violations(page) == {}


async def handed_on(page: Page) -> None:
    await page.get_by_role("link", name="Hand on").click()
    await page.get_by_role("button", name="Hand it on").click()
    await expect(page.get_by_role("status")).to_contain_text("Handed to court one")
    await expect(page.locator("#to-court ~ .rows")).to_contain_text("my/from-club/kim/deep")
    await sound(page)


async def reviewed(page: Page) -> None:
    await page.get_by_role("link", name="Lessons", exact=True).click()
    await sound(page)
    await page.get_by_role("link", name="invented").click()
    await expect(page.locator("h1")).to_have_text("invented")
    await expect(page.get_by_role("heading", name="Ada")).to_be_visible()
    assert await violations(page) == {}


async def on_a_phone(browser: Browser, url: str, trouble: list[str]) -> None:
    """By night, and in another window than the tablet's: what is saved there comes here."""
    page = await new_page(browser, PHONE, trouble)
    await page.emulate_media(color_scheme="dark")
    await signed_in(page, url)
    await page.goto(f"{url}/mine")
    await sound(page)
    await page.get_by_role("link", name="deep", exact=True).click()
    await sound(page)
    await page.get_by_role("link", name="Open it at the desk").click()
    await expect(page.locator(".cm-content")).to_contain_text("by a tablet")
    await expect(page.locator("#verdict")).to_contain_text("it passes")
    assert await page.evaluate(TOO_WIDE) == []


@pytest.mark.anyio
async def test_a_coachs_day_with_a_tablet(ready: AtDesks) -> None:
    trouble: list[str] = []
    async with chromium() as browser:
        page = await new_page(browser, TABLET, trouble)
        await signed_in(page, ready.url)
        await written(page)
        await handed_on(page)
        await reviewed(page)
        await on_a_phone(browser, ready.url, trouble)
    assert trouble == []
