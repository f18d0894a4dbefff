"""The overview in a real browser: each court as it is, and a STOP that is told as it comes."""

from __future__ import annotations

import re
from collections.abc import Iterator
from contextlib import asynccontextmanager
from pathlib import Path

import pytest
from playwright.async_api import Browser, Page, expect

from feedscript.club.batch import Part
from feedscript.club.who import Role
from tests.club.overview.courts import Stage, is_kind, staged, until
from tests.console.accessible import violations
from tests.console.browser import PHONE, SCREEN, TOO_SMALL, TOO_WIDE

pytestmark = pytest.mark.anyio
SIZES = [PHONE, {"width": 1280, "height": 800}, {"width": 1920, "height": 1080}]
RUNS_DOWN = {"device_s": 80.0, "state": "stopping", "reason": "stop"}


@pytest.fixture(scope="module")
def stage(tmp_path_factory: pytest.TempPathFactory, lesson: Part) -> Iterator[Stage]:
    """Court 1 plays; Court 2 plays and will be stopped; Court 10 has finished; Court 9 is new."""
    with staged(tmp_path_factory.mktemp("club")) as made:
        playing = until(lesson, is_kind("outcome", '"left"'), 20)
        for name in ("Court 1", "Court 2", "Court 3"):
            made.plays(name, lesson, 1, playing)
        made.plays("Court 10", lesson, 1, len(lesson.events))
        made.court("Court 9")
        yield made


@asynccontextmanager
async def page_of(
    browser: Browser, stage: Stage, role: str, size: dict[str, int], path: str = "/courts"
):
    context = await browser.new_context(viewport=size, locale="en-GB")
    await context.add_cookies([{"name": "role", "value": role, "url": stage.url}])
    page = await context.new_page()
    trouble: list[str] = []
    page.on("pageerror", lambda error: trouble.append(str(error)))
    page.on("console", lambda said: trouble.append(said.text) if said.type == "error" else None)
    await page.goto(stage.url + path)
    yield page
    await context.close()
    assert [words for words in trouble if "ERR_INTERNET_DISCONNECTED" not in words] == []


def court(page: Page, name: str):
    return page.locator(".court", has=page.get_by_role("link", name=name, exact=True))


async def test_every_court_is_seen_at_a_glance(browser: Browser, stage: Stage) -> None:
    async with page_of(browser, stage, Role.COACH, PHONE) as page:
        first = court(page, "Court 1")
        await expect(first.locator(".phase")).to_have_text("Running")
        await expect(first.locator(".on")).to_contain_text("volleys: E, next: C")
        await expect(first.locator(".balls")).to_have_text("20 of 74 balls")
        await expect(first.locator(".launchers")).to_contain_text("drives: armed, 60 balls in it")
        await expect(court(page, "Court 10").locator(".phase")).to_have_text("Finished")
        await expect(court(page, "Court 9").locator(".since")).to_have_text("Never heard yet")
        names = await page.locator(".court h2").all_inner_texts()
        assert names == ["Court 1", "Court 2", "Court 3", "Court 9", "Court 10"]
        assert await violations(page) == {}
        assert await page.evaluate(TOO_WIDE) == []
        assert await page.evaluate(TOO_SMALL) == []


async def test_nobody_is_led_to_what_is_not_theirs(browser: Browser, stage: Stage) -> None:
    """A wall may see no names, and so no groups; its own account, with the way out, it may."""
    for role, places in (
        (Role.COACH, ["Groups", "My account"]),
        (Role.VIEWER, ["My account"]),
    ):
        async with page_of(browser, stage, role, PHONE) as page:
            await expect(court(page, "Court 1").locator(".phase")).to_have_text("Running")
            assert await page.locator(".top a:visible").all_inner_texts() == places


async def test_news_of_a_lesson_are_on_the_page_at_once(
    browser: Browser, stage: Stage, lesson: Part
) -> None:
    playing = until(lesson, is_kind("outcome", '"left"'), 20)
    more = until(lesson, is_kind("outcome", '"left"'), 23)
    async with page_of(browser, stage, Role.COACH, SCREEN) as page:
        await expect(court(page, "Court 3").locator(".balls")).to_have_text("20 of 74 balls")
        stage.plays("Court 3", lesson, playing + 1, more)
        await expect(court(page, "Court 3").locator(".balls")).to_have_text("23 of 74 balls")
        await expect(court(page, "Court 1").locator(".balls")).to_have_text("20 of 74 balls")


async def test_a_stop_is_told_as_far_as_it_has_come_and_no_farther(
    browser: Browser, stage: Stage
) -> None:
    """By the keyboard. Its word "Stopped" comes with the court's own, never before."""
    async with page_of(browser, stage, Role.COACH, SCREEN) as page:
        card = court(page, "Court 2")
        told, phase = card.locator(".stop-told"), card.locator(".phase")
        await expect(phase).to_have_text("Running")
        await card.get_by_role("button", name="STOP Court 2").focus()
        await page.keyboard.press("Enter")
        await expect(told).to_have_text("STOP asked: the court has not heard it yet.")
        await expect(phase).to_have_text("Stopping")
        stage.answers("Court 2", stopped=None)
        await expect(told).to_contain_text("A ball may still leave until it is confirmed.")
        await expect(phase).to_have_text("Stopping")
        stage.answers("Court 2", stopped=True)
        stage.says("Court 2", "act", act="stop", by="club: the coach", phase="stopped")
        stage.says("Court 2", "event", event="state", launcher=0, said=RUNS_DOWN)
        stage.says("Court 2", "event", event="acknowledged", launcher=0, said={"hold": False})
        await expect(card).to_contain_text("drives: stopping")
        await expect(phase).to_have_text("Stopping")  # the other one has not said it
        assert "Stopped" not in await card.inner_text()
        stage.says("Court 2", "event", event="state", launcher=1, said=RUNS_DOWN)
        await expect(card).to_contain_text("volleys: stopping")
        assert "Stopped" not in await card.inner_text()  # its driver may only be about to tell it
        stage.says("Court 2", "event", event="acknowledged", launcher=1, said={"hold": False})
        await expect(phase).to_have_text("Stopped")
        await expect(told).to_have_text("Stopped: every launcher has confirmed it.")
        assert await violations(page) == {}
        await expect(court(page, "Court 1").locator(".phase")).to_have_text("Running")


async def test_a_stop_that_not_every_launcher_confirmed_is_told_of_each_and_raises_the_alarm(
    browser: Browser, stage: Stage
) -> None:
    each = "drives: stopping, confirmed; volleys: not confirmed; the 1 s are over"
    async with page_of(browser, stage, Role.COACH, SCREEN) as page:
        card = court(page, "Court 2")
        await card.get_by_role("button", name="STOP Court 2").click()
        await expect(card.locator(".stop-told")).to_contain_text("STOP asked")
        stage.answers("Court 2", stopped=True, says=each)
        await expect(card.locator(".stop-told")).to_have_text(
            f"Stopped, but not confirmed by every launcher. {each}. Go there."
        )
        await expect(card).to_have_attribute("data-tone", "alarm")


async def test_a_court_that_falls_silent_is_said_to_be_so_within_three_seconds(
    browser: Browser, stage: Stage
) -> None:
    async with page_of(browser, stage, Role.COACH, SCREEN) as page:
        card = court(page, "Court 3")
        await expect(card.locator(".since")).to_have_text("")
        stage.falls_silent("Court 3")
        began_ms = await page.evaluate("performance.now()")
        await expect(card.locator(".since")).to_contain_text("Not heard since")
        assert await page.evaluate("performance.now()") - began_ms < 3_000
        await expect(card.locator(".phase")).to_have_text("Last: Running")
        await expect(card).to_have_attribute("data-tone", "alarm")
        clock = await card.locator(".clock").inner_text()
        await page.wait_for_timeout(1200)
        assert await card.locator(".clock").inner_text() == clock  # nobody knows what it does


async def test_a_page_without_its_server_says_so_and_a_stop_that_was_lost_is_told(
    browser: Browser, stage: Stage
) -> None:
    async with page_of(browser, stage, Role.COACH, SCREEN) as page:
        await expect(court(page, "Court 1").locator(".phase")).to_have_text("Running")
        await page.context.set_offline(True)
        await expect(page.locator("#lost")).to_contain_text("No link to the club's server")
        await court(page, "Court 1").locator(".stop").click()
        await expect(page.locator("#lost")).to_contain_text("STOP for Court 1 did not reach")
        await page.context.set_offline(False)
        await expect(page.locator("#lost")).to_be_hidden()


async def test_a_viewer_sees_no_name_and_no_stop(browser: Browser, stage: Stage) -> None:
    async with page_of(browser, stage, Role.VIEWER, SCREEN) as page:
        await expect(court(page, "Court 1").locator(".phase")).to_have_text("Running")
        assert await page.get_by_role("button", name=re.compile("STOP")).count() == 0
        await expect(court(page, "Court 1").locator(".on")).to_be_hidden()
        told = await page.evaluate(
            """host => new Promise(done => {
                 const line = new WebSocket(`ws://${location.host}/courts/live?court=${host}`);
                 line.onmessage = said => said.data.includes("stations") && done(said.data);
               })""",
            stage.courts["Court 1"].host,
        )
        assert '"on":"E"' not in told
        assert '"on":""' in told


async def test_a_tap_leads_to_the_courts_screen_for_its_group(
    browser: Browser, stage: Stage
) -> None:
    async with page_of(browser, stage, Role.COACH, PHONE) as page:
        await page.get_by_role("link", name="Court 1", exact=True).click()
        await expect(page.locator("h1")).to_have_text("Court 1")
        await expect(page.locator(".on")).to_contain_text("drives: B, next: F")
        await expect(page.locator(".call")).to_have_text("B to drives")
        assert await violations(page) == {}
        assert await page.evaluate(TOO_WIDE) == []


async def test_it_is_told_in_the_browsers_language(browser: Browser, stage: Stage) -> None:
    context = await browser.new_context(locale="de-DE")
    await context.add_cookies([{"name": "role", "value": "coach", "url": stage.url}])
    page = await context.new_page()
    await page.goto(f"{stage.url}/courts")
    await expect(court(page, "Court 1").locator(".phase")).to_have_text("Läuft")
    await expect(page.locator("h1")).to_have_text("Plätze")
    await context.close()


async def test_a_stranger_is_led_to_where_one_signs_in(browser: Browser, stage: Stage) -> None:
    context = await browser.new_context()
    answer = await context.request.get(f"{stage.url}/courts", max_redirects=0)
    assert (answer.status, answer.headers["location"]) == (303, "/")
    page = await context.new_page()
    await page.goto(f"{stage.url}/health")
    closed = await page.evaluate(
        """() => new Promise(done => {
             const line = new WebSocket(`ws://${location.host}/courts/live`);
             line.onmessage = () => done("told"); line.onclose = () => done("closed");
           })"""
    )
    assert closed == "closed"
    await context.close()


async def test_few_courts_fill_a_wall_and_no_more(browser: Browser, stage: Stage) -> None:
    async with page_of(browser, stage, Role.COACH, {"width": 1920, "height": 1080}) as page:
        await expect(court(page, "Court 1").locator(".phase")).to_have_text("Running")
        box = await page.locator("#courts").bounding_box()
        assert box is not None
        assert 600 < box["height"] < 1080
        size = "getComputedStyle(document.querySelector('.on li')).fontSize"
        assert float((await page.evaluate(size)).removesuffix("px")) > 28


@pytest.mark.long
@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("size", SIZES)
async def test_it_can_be_read_at_every_size_by_day_and_by_night(
    browser: Browser, stage: Stage, size: dict[str, int], scheme: str, tmp_path: Path
) -> None:
    context = await browser.new_context(viewport=size, color_scheme=scheme)  # type: ignore[arg-type]
    await context.add_cookies([{"name": "role", "value": "coach", "url": stage.url}])
    page = await context.new_page()
    for path in ("/courts", f"/courts/{stage.courts['Court 1'].host}"):
        await page.goto(stage.url + path)
        await page.wait_for_selector(".phase:not(:empty)")
        assert await violations(page) == {}
        assert await page.evaluate(TOO_WIDE) == []
        await page.screenshot(path=tmp_path / "page.png")
    await context.close()
