"""A phone in the midst of a lesson that is left and come back to: by "back", loaded anew, with an
empty battery, beside a second one. STOP is there at once, nothing is lost, and nothing is told to
the lesson by it."""

from __future__ import annotations

from collections.abc import AsyncIterator
from contextlib import asynccontextmanager, suppress
from urllib.parse import urlsplit

import anyio
import msgspec
import pytest
from playwright.async_api import Browser, Page, expect
from playwright.async_api import Error as Gone

from feedscript.console import access
from feedscript.console.access import Role
from feedscript.console.listening import listen
from feedscript.console.serve import Served, serve
from feedscript.session.engine.wall_clock import elapsed_s
from feedscript.session.operator.commands import SimpleCommand
from feedscript.session.operator.phases import Act, Phase
from tests.console.browser import PHONE, new_page
from tests.console.lesson import RememberingLesson
from tests.console.test_page import heard, in_control, stop_is_on_screen, with_record
from tests.console.test_whose_on_page import with_stations
from tests.session.operator.seen_views import at

pytestmark = pytest.mark.anyio
STOP = SimpleCommand(act=Act.STOP)
RUNNING = with_record(with_stations("west", "east"))


@asynccontextmanager
async def on_court(browser: Browser) -> AsyncIterator[tuple[Page, RememberingLesson, Served]]:
    """A phone that holds control while the lesson runs; its scripts complain of nothing."""
    lesson, trouble = RememberingLesson(RUNNING), []
    async with serve(lesson) as served:
        yield await in_control(await new_page(browser, PHONE, trouble), served), lesson, served
    assert [words for words in trouble if "WebSocket connection" not in words] == []


async def still_runs_it(page: Page, lesson: RememberingLesson) -> None:
    """It stops, it holds control, and until it was pressed it has told the lesson nothing."""
    assert await stop_is_on_screen(page)
    assert lesson.told == []
    await page.click("#stop")
    await heard(lesson, 1)
    assert {command for command, _ in lesson.told} == {STOP}
    await expect(page.locator("#take")).to_be_hidden()
    await expect(page.locator('[data-control="hold"]')).to_be_enabled()


async def test_back_does_not_leave_a_lesson_that_runs(browser: Browser) -> None:
    async with on_court(browser) as (page, lesson, served):
        for _ in range(3):
            await page.evaluate("history.back()")
            await expect(page.locator("#stop")).to_be_visible()
        assert page.url == f"{served.url}/"
        await still_runs_it(page, lesson)


async def test_back_puts_away_what_lies_over_the_page(browser: Browser) -> None:
    async with on_court(browser) as (page, lesson, _served):
        await page.click("#where")
        await expect(page.locator("#landing")).to_be_visible()
        await page.evaluate("history.back()")
        await expect(page.locator("#landing")).to_be_hidden()
        await still_runs_it(page, lesson)


async def test_back_leads_away_from_a_lesson_that_has_ended(browser: Browser) -> None:
    over = msgspec.structs.replace(at(Phase.FINISHED), ended="The lesson is over.")
    lesson = RememberingLesson(over)
    async with serve(lesson) as served:
        page = await new_page(browser, PHONE, [])
        await page.goto(f"{served.url}/static/style.css")
        await page.goto(served.pairing_link(Role.COACH))
        await expect(page.locator("#phase")).to_have_text("Finished")
        await page.evaluate("history.back()")
        await page.wait_for_url("**/static/style.css")


async def test_loaded_anew_the_page_is_as_it_was(browser: Browser) -> None:
    async with on_court(browser) as (page, lesson, _served):
        await page.get_by_label("I record").select_option("east")
        await page.evaluate("document.getElementById('mute').click()")
        await page.reload()
        await expect(page.get_by_label("I record")).to_have_value("east")
        await expect(page.locator("#mute")).to_have_text("Voice off")
        await page.evaluate("history.back()")
        await still_runs_it(page, lesson)


async def test_a_phone_whose_battery_was_empty_goes_on_where_it_was(browser: Browser) -> None:
    async with on_court(browser) as (page, lesson, served):
        inside = await page.context.new_cdp_session(page)
        with suppress(Gone), anyio.move_on_after(2.0):
            await inside.send("Page.crash")
        again = await page.context.new_page()
        await again.goto(served.url)
        await still_runs_it(again, lesson)


async def test_two_phones_never_command_at_once_and_both_stop(
    browser: Browser, monkeypatch: pytest.MonkeyPatch
) -> None:
    async with on_court(browser) as (first, lesson, served):
        second = await new_page(browser, PHONE, [])
        await second.goto(served.pairing_link(Role.COACH))
        await expect(second.locator('[data-control="hold"]')).to_be_disabled()
        await second.click("#take")
        await expect(second.locator("#trouble")).to_contain_text("holds control")
        await second.keyboard.press("h")
        await second.click("#stop")
        await first.click("#stop")
        await heard(lesson, 2)
        await first.context.close()  # the one in control is gone; the other takes its place
        monkeypatch.setattr(access, "CONTROL_SILENCE_S", 0.1)
        await anyio.sleep(0.2)
        await second.click("#take")
        await expect(second.locator("#take")).to_be_hidden()
        await second.click('[data-control="hold"]')
        told = await heard(lesson, 5)
        assert set(told[:-1]) == {STOP}
        assert told[-1] == SimpleCommand(act=Act.HOLD)


async def test_a_stop_that_found_no_laptop_is_sent_as_soon_as_it_is_heard_again(
    browser: Browser,
) -> None:
    lesson, known = RememberingLesson(RUNNING), access.Access(elapsed_s)
    page = await new_page(browser, PHONE, [])
    async with serve(lesson, access=known) as served:
        await in_control(page, served)
    await page.click("#stop")
    await expect(page.locator("#lost")).to_contain_text("STOP was not received yet")
    assert lesson.told == []
    here = listen(False, urlsplit(served.url).port)
    async with serve(lesson, here, access=known):
        await heard(lesson, 1)
        await expect(page.locator("#lost")).to_be_hidden()
        await anyio.sleep(1.0)
    assert {command for command, _ in lesson.told} == {STOP}
