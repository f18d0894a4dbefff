"""The players' steps on the coach's phone: always seen, and set before the first ball."""

from __future__ import annotations

import msgspec
import pytest
from playwright.async_api import Browser

from feedscript.console.access import Role
from feedscript.console.serve import serve
from feedscript.session.operator.commands import SetRung
from feedscript.session.operator.phases import Phase
from feedscript.session.operator.view import LessonView, RungView
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
from tests.session.operator.seen_views import at, in_exercise

pytestmark = pytest.mark.anyio

PACES = ("easy", "medium", "deep")


def with_rungs(view: LessonView, *, may_be_set: bool, players: int = 4) -> LessonView:
    rungs = tuple(
        RungView(
            player=f"Player number {n}",
            progression="pace",
            rung=n % 3,
            rungs=PACES,
            as_last_time=n == 1,
            may_be_set=may_be_set,
        )
        for n in range(1, players + 1)
    )
    private = msgspec.structs.replace(view.private, rungs=rungs)
    return msgspec.structs.replace(view, private=private)


async def test_the_coach_sets_a_step_before_the_first_ball(browser: Browser) -> None:
    lesson, trouble = RememberingLesson(with_rungs(at(Phase.SETTING_UP), may_be_set=True)), []
    async with serve(lesson) as served:
        page = await in_control(await new_page(browser, PHONE, trouble), served)
        first = page.locator("#rungs li").first
        assert "as last time" in await first.inner_text()
        choice = page.get_by_label("Player number 1, pace:")
        assert await choice.input_value() == "1"
        await choice.select_option("easy")
        assert await heard(lesson, 1) == [
            SetRung(player="Player number 1", progression="pace", rung=0)
        ]
        assert await choice.input_value() == "1"  # until the lesson says so
        assert await violations(page) == {}
    assert trouble == []


@pytest.mark.parametrize("phase", [Phase.SETTING_UP, Phase.RUNNING])
async def test_the_steps_have_their_room_at_every_size(browser: Browser, phase: Phase) -> None:
    setting_up = phase is Phase.SETTING_UP
    view = at(phase) if setting_up else in_exercise(at(phase))
    lesson = RememberingLesson(with_rungs(view, may_be_set=setting_up, players=8))
    trouble: list[str] = []
    async with serve(lesson) as served:
        page = await in_control(await new_page(browser, PHONE, trouble), served)
        for size in (PHONE, PHONE_ON_ITS_SIDE, SMALL, SCREEN):
            await page.set_viewport_size(size)
            await page.wait_for_selector("#rungs" if setting_up else ".step:has-text('2 of 3')")
            assert await page.evaluate(TOO_WIDE) == [], size
            small = await page.evaluate(TOO_SMALL)
            assert [one for one in small if "<select" in one] == [], size
            assert await stop_is_on_screen(page), size
            assert await violations(page) == {}, size
        assert await page.locator("#rungs select").count() == (8 if setting_up else 0)
        if not setting_up:
            await page.click("#more > summary")
            assert "Player number 2: deep (3 of 3)" in await page.inner_text("#players")
    assert trouble == []


async def test_a_screen_for_the_group_says_nothing_of_them(browser: Browser) -> None:
    lesson, trouble = RememberingLesson(with_rungs(at(Phase.RUNNING), may_be_set=False)), []
    async with serve(lesson) as served:
        page = await new_page(browser, SCREEN, trouble)
        await page.goto(served.pairing_link(Role.VIEWER))
        await page.wait_for_selector("#stations li")
        assert "of 3)" not in await page.inner_text("body")
    assert trouble == []
