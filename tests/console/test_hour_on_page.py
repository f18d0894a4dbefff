"""The hour's clock on the coach's phone and on the group's screen, and the end at the hour."""

from __future__ import annotations

import re

import msgspec
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
from tests.console.test_page import heard, in_control, stop_is_on_screen
from tests.session.operator.seen_views import at, in_an_hour, in_exercise

pytestmark = pytest.mark.anyio

PLAYING = in_an_hour(in_exercise(at(Phase.RUNNING)))
END = '[data-control="end-at-hour"]'


async def test_the_clock_says_how_the_hour_stands_to_coach_and_group(browser: Browser) -> None:
    """Only the coach is told what could go. In a pause the end moves on with the clock."""
    lesson, trouble = RememberingLesson(PLAYING), []
    async with serve(lesson) as served:
        page = await in_control(await new_page(browser, PHONE, trouble), served)
        group = await new_page(browser, SCREEN, trouble)
        await group.goto(served.pairing_link(Role.VIEWER))
        for screen in (page, group):
            words = await screen.wait_for_selector("#hour:has-text('5 min behind')")
            told = await words.inner_text()
            assert re.fullmatch(r"50:\d\d gone, 60:00 planned; 15 min to come: 5 min behind", told)
        await page.wait_for_selector("#could-go:has-text('“Points” + “Serve” (12 min)')")
        assert "Serve" not in await group.inner_text("main")
        for behind_s, standing in ((20.0, "on time"), (-240.0, "4 min ahead")):
            lesson.change(in_an_hour(in_exercise(at(Phase.RUNNING)), behind_s=behind_s))
            await page.wait_for_selector(f"#hour:has-text('{standing}')")
            await page.wait_for_selector("#could-go:empty", state="attached")
        held = in_an_hour(at(Phase.HELD), behind_s=59.4)
        lesson.change(held)
        await page.wait_for_selector("#hour:has-text('1 min behind')")
        assert await page.inner_text("#time") == ""
        lesson.change(
            at(Phase.HELD)
        )  # no hour: what runs is not what is planned, and is told apart
        told = await page.wait_for_selector("#time:has-text('since the first ball')")
        assert re.fullmatch(
            r"0:1\d since the first ball; 4:00 planned, without pauses", await told.inner_text()
        )
    assert trouble == []


async def test_the_coach_chooses_to_end_at_the_hour_and_may_play_on(browser: Browser) -> None:
    lesson, trouble = RememberingLesson(PLAYING), []
    async with serve(lesson) as served:
        page = await in_control(await new_page(browser, PHONE, trouble), served)
        await page.click(END)
        assert await heard(lesson, 1) == [SimpleCommand(act=Act.END_AT_HOUR)]
        await page.locator("body").press("l")
        assert (await heard(lesson, 2))[1] == SimpleCommand(act=Act.END_AT_HOUR)
        assert PLAYING.hour is not None
        chosen = msgspec.structs.replace(PLAYING.hour, ends_at_hour=True)
        lesson.change(msgspec.structs.replace(PLAYING, hour=chosen))
        await page.wait_for_selector("#hour:has-text('Ends after the turn')")
    assert trouble == []


async def test_the_clock_has_its_room_at_every_size(browser: Browser) -> None:
    lesson, trouble = RememberingLesson(PLAYING), []
    async with serve(lesson) as served:
        page = await in_control(await new_page(browser, PHONE, trouble), served)
        for size in (PHONE, PHONE_ON_ITS_SIDE, SMALL, SCREEN):
            await page.set_viewport_size(size)
            await page.wait_for_selector("#hour:has-text('behind')")
            seen = await page.locator("#hour").bounding_box()
            assert seen is not None
            assert seen["y"] >= 0, size  # on the screen without scrolling
            assert seen["y"] + seen["height"] < size["height"] / 3, size
            assert await page.locator(END).is_visible(), size
            assert await page.evaluate(TOO_WIDE) == [], size
            assert await page.evaluate(TOO_SMALL) == [], size
            assert await stop_is_on_screen(page), size
            assert await violations(page) == {}, size
    assert trouble == []
