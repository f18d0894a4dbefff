"""Balls on request on the coach's phone: one big button, what is left, when the next may leave."""

from __future__ import annotations

import pytest
from playwright.async_api import Browser

from feedscript.console.access import Role
from feedscript.console.serve import serve
from feedscript.session.operator.commands import SimpleCommand
from feedscript.session.operator.phases import Act, Phase
from tests.console.accessible import violations
from tests.console.browser import (
    PHONE,
    PHONE_ON_ITS_SIDE,
    SCREEN,
    SMALL,
    TOO_SMALL,
    TOO_WIDE,
    new_page,
)
from tests.console.lesson import RememberingLesson
from tests.console.test_page import READ_S, heard, in_control, stop_is_on_screen
from tests.session.operator.seen_views import NOW, at, in_exercise, on_request

pytestmark = pytest.mark.anyio

SEND = '[data-control="send-one"]'
PLAYING = in_exercise(at(Phase.RUNNING))


async def test_a_tap_asks_for_a_ball_and_the_page_says_what_is_left(browser: Browser) -> None:
    lesson, trouble = RememberingLesson(on_request(PLAYING)), []
    async with serve(lesson) as served:
        page = await in_control(await new_page(browser, PHONE, trouble), served)
        await page.wait_for_selector("#request-words:has-text('7 of 12 left')")
        await page.wait_for_selector("#request-words:has-text('s at the soonest')")
        await page.wait_for_timeout(1000 * READ_S)
        await page.click(SEND)
        assert await heard(lesson, 1) == [SimpleCommand(act=Act.SEND_ONE)]
        for key in ("t", "PageDown", "Enter"):
            await page.locator("body").press(key)
        assert len(await heard(lesson, 4)) == 4

        lesson.change(on_request(PLAYING, asked=True))
        await page.wait_for_selector(f"{SEND}:disabled:has-text('On its way')")
        lesson.change(on_request(PLAYING, came_to_nothing=True, may_leave_utc_s=NOW - 60.0))
        await page.wait_for_selector("#request-words:has-text('tap again. The next at once.')")
        lesson.change(on_request(in_exercise(at(Phase.HELD))))
        await page.wait_for_selector("#request-words:has-text('The lesson stands still.')")
        assert await page.is_disabled(SEND)
        lesson.change(PLAYING)
        await page.wait_for_selector(SEND, state="hidden")
    assert trouble == []


async def test_the_big_button_has_its_room_at_every_size(browser: Browser) -> None:
    """Beside it the whole pad and the stop; nothing cut off, nothing too small for a thumb."""
    longest = "Maximiliana-Konstantina of the other court"
    lesson, trouble = RememberingLesson(on_request(PLAYING, player=longest)), []
    async with serve(lesson) as served:
        page = await in_control(await new_page(browser, PHONE, trouble), served)
        for size in (PHONE, PHONE_ON_ITS_SIDE, SMALL, SCREEN):
            await page.set_viewport_size(size)
            await page.wait_for_selector(f"{SEND}:visible")
            assert await page.evaluate(TOO_WIDE) == [], size
            assert await page.evaluate(TOO_SMALL) == [], size
            assert await stop_is_on_screen(page), size
            seen = await page.locator(SEND).bounding_box()
            inside = await page.locator('[data-control="in"]').bounding_box()
            assert seen is not None
            assert inside is not None
            assert seen["height"] >= 56, size
            assert inside["y"] + inside["height"] <= size["height"], size
            assert await violations(page) == {}, size
    assert trouble == []


async def test_a_screen_for_the_group_has_no_such_button(browser: Browser) -> None:
    lesson, trouble = RememberingLesson(on_request(PLAYING)), []
    async with serve(lesson) as served:
        page = await new_page(browser, SCREEN, trouble)
        await page.goto(served.pairing_link(Role.VIEWER))
        await page.wait_for_selector("#exercise:visible")
        assert await page.locator("button").all_inner_texts() == ["STOP"]
    assert trouble == []
