"""The library's and the launchers' pages in a browser: a coach's and the head coach's work on them,
on a phone by night and on a screen by day."""

from __future__ import annotations

from collections.abc import AsyncIterator
from contextlib import asynccontextmanager

import anyio
import msgspec
import pytest
import uvicorn
from playwright.async_api import Browser, Page, expect

from feedscript.club.launchers.sheets import WEEK_S, Landing, Sheet, sheets
from feedscript.club.library.shelf import Shelf
from feedscript.club.library.signing import ClubKey
from feedscript.club.people.pages.answers import Desk
from feedscript.club.server.app import make_app
from feedscript.club.server.club import Club
from feedscript.club.server.serve import pages_of
from feedscript.club.store.store import Store
from feedscript.console.listening import listen
from tests.club.launchers.test_sheets import drawn, played
from tests.club.library.signed import KEY
from tests.club.library.test_shelf import FASTER, PAIR
from tests.club.people.stage import CHEAP, Stage
from tests.club.people.test_seen import signed_in, sound
from tests.console.browser import PHONE, SCREEN, chromium, new_page


@pytest.fixture
def anyio_backend() -> str:
    return "asyncio"


@pytest.fixture
def stage(store: Store) -> Stage:
    return Stage(store)


@asynccontextmanager
async def served(stage: Stage) -> AsyncIterator[str]:
    """Everything that a club's server serves, with an invented launcher's weeks."""
    listening = listen(on_court_network=False, port=0)
    club = Club(stage.store, stage.desk.who)
    club.launchers.sheets = weeks  # type: ignore[method-assign]
    desk = Desk(stage.store, club.who, stage.desk.utc_s, CHEAP)
    app = make_app(club, ["127.0.0.1"], pages_of(club, ClubKey(KEY), desk))
    server = uvicorn.Server(uvicorn.Config(app, log_level="error", lifespan="off"))
    async with anyio.create_task_group() as tasks:
        tasks.start_soon(server.serve, [listening.socket])
        with anyio.fail_after(30):
            while not server.started:
                await anyio.sleep(0.01)
        yield f"http://{listening.reached}"
        server.should_exit = True


def weeks(now_utc_s: float) -> tuple[Sheet, ...]:
    """A launcher that drifts, jams more lately, and was tuned once."""
    lessons = [
        msgspec.structs.replace(
            played(0),
            begun_utc_s=now_utc_s - week * WEEK_S - 3600.0,
            profile_hash="b" * 64 if week > 5 else "a" * 64,
            faults={"jam": 9} if week < 2 else {},
            landings=tuple(Landing((x, y), (x / 3, y / 2)) for x, y in drawn(week, 9, shift=1.0)),
            firmware="0.1.0",
        )
        for week in range(11)
    ]
    return sheets(lessons, now_utc_s)


async def coach_adds(browser: Browser, url: str) -> None:
    """On a phone, by night: the first try has a fault, the second is taken."""
    page = await new_page(browser, PHONE, [])
    await page.emulate_media(color_scheme="dark")
    await signed_in(page, url, "kim")
    await page.get_by_role("link", name="Library").click()
    await sound(page, "Library")
    await page.get_by_role("link", name="Add a text").click()
    await page.get_by_label("Name", exact=True).fill("pair")
    await page.get_by_label("What it is for").fill("faster, for county players")
    await page.get_by_label("The text").fill(FASTER.replace("75 km/h", "750 km/h"))
    await page.get_by_role("button", name="Add it").click()
    await expect(page.get_by_role("alert")).to_contain_text("does not pass the check")
    await sound(page, "Add a text")
    await page.get_by_label("The text").fill(FASTER)
    await page.get_by_role("button", name="Add it").click()
    await expect(page.locator(".waiting")).to_contain_text("No court uses it")
    await expect(page.get_by_role("button", name="Approve")).to_have_count(0)
    await _drawn(page)
    await sound(page, await page.locator("h1").inner_text())


async def head_coach_judges(browser: Browser, url: str) -> None:
    """On a screen: beside the version in use, then approved, then withdrawn."""
    page = await new_page(browser, SCREEN, [])
    await signed_in(page, url, "head")
    await page.get_by_role("link", name="Library").click()
    await page.locator("#waiting ~ .rows").get_by_role("link", name="pair").click()
    await page.get_by_role("link", name="Set beside this one").click()
    await expect(page.locator("ins")).to_contain_text("75 km/h")
    await _drawn(page)
    await sound(page, await page.locator("h1").inner_text())
    await page.locator("figcaption a").last.click()
    await page.get_by_role("button", name="Approve").click()
    await expect(page.locator(".done")).to_have_text("In use on the courts.")
    await page.get_by_label("What its fault is").fill("too fast for red")
    await page.get_by_role("button", name="Withdraw").click()
    await expect(page.locator(".wrong")).to_have_text("Withdrawn: too fast for red")
    await sound(page, await page.locator("h1").inner_text())


async def head_coach_looks_at_launchers(browser: Browser, url: str) -> None:
    page = await new_page(browser, PHONE, [])
    await signed_in(page, url, "head")
    await page.get_by_role("link", name="Launchers").click()
    await expect(page.locator(".advice")).to_contain_text("More has gone wrong lately")
    await sound(page, "Launchers")
    await page.get_by_role("link", name="The weeks of").click()
    await page.get_by_text("The same in figures").click()
    await _drawn(page)
    await sound(page, "the old one (7)")


async def _drawn(page: Page) -> None:
    """Every picture came, and is one."""
    drawn_ones = page.locator("img.drawn")
    assert await drawn_ones.count()
    for one in await drawn_ones.all():
        await expect(one).to_have_js_property("complete", True)
        assert await one.evaluate("one => one.naturalWidth") > 100
        assert await one.get_attribute("alt")


@pytest.mark.anyio
async def test_a_coach_adds_a_text_and_the_head_coach_judges_it(stage: Stage) -> None:
    shelf = Shelf(stage.store, ClubKey(KEY), lambda: stage.now_utc_s - 86_400.0)
    shelf.approve(shelf.add("pair", PAIR, "for beginners", stage.lee).sha256, "", stage.head)
    async with chromium() as browser, served(stage) as url:
        await coach_adds(browser, url)
        await head_coach_judges(browser, url)
        await head_coach_looks_at_launchers(browser, url)
