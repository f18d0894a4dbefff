"""Target, goals and score on phone and group screen, in a real browser."""

from __future__ import annotations

import msgspec
import pytest
from playwright.async_api import Browser, expect

from feedscript.console.access import Role
from feedscript.plan.model import Result
from feedscript.session.operator.commands import RecordResult
from feedscript.session.operator.phases import Phase
from feedscript.session.operator.stands import STANDS
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
from tests.console.court_picture import seen_at, stand_at
from tests.console.lesson import RememberingLesson
from tests.console.test_page import heard, in_control, serve, stop_is_on_screen
from tests.session.operator.seen_views import DEEP_CROSS, aiming, at

pytestmark = pytest.mark.anyio


async def test_both_screens_show_how_everyone_stands_as_long_as_it_is_on(browser: Browser) -> None:
    lesson, trouble = RememberingLesson(aiming(at(Phase.RUNNING))), []
    async with serve(lesson) as served:
        page = await in_control(await new_page(browser, PHONE, trouble), served)
        group = await new_page(browser, SCREEN, trouble)
        await group.goto(served.pairing_link(Role.VIEWER))
        for screen in (page, group):
            await screen.wait_for_selector("#aims:visible")
            said = await screen.inner_text("#aims")
            assert "Target: deep cross, four cones" in said
            assert "Goal: 7 of 10 in deep cross" in said
            assert "✓ Player number 1: goal met" in said
            assert "Player number 2: 4" in said
            assert "Player number 1: 5 in a row" in said
            assert "✓ Player number 1 won, 11 : 6" in said
            assert "Player number 2 5 : 9 launcher" in said
            assert await violations(screen) == {}
        on_now = page.locator("#aims-now")  # of who is on, whatever needs scrolling
        await expect(on_now).to_be_in_viewport(ratio=1)
        await expect(group.locator("#court")).to_be_in_viewport(ratio=1)
        lesson.change(at(Phase.RUNNING))
        for screen in (page, group):
            await screen.wait_for_selector("#aims", state="hidden")
    assert trouble == []


@pytest.mark.parametrize("stand", STANDS, ids=lambda stand: stand.name)
async def test_the_target_is_drawn_where_it_lies_as_the_coach_stands(
    browser: Browser, stand
) -> None:
    lesson, trouble = RememberingLesson(aiming(at(Phase.RUNNING))), []
    async with serve(lesson) as served:
        page = await in_control(await new_page(browser, PHONE, trouble), served)
        await stand_at(page, stand.name)
        drawn = await page.locator("#court polygon").bounding_box()
        assert drawn is not None
        corners = [await seen_at(page, "#court", stand.name, *corner) for corner in DEEP_CROSS]
        xs, ys = [x for x, _ in corners], [y for _, y in corners]
        assert drawn["x"] == pytest.approx(min(xs), abs=4)
        assert drawn["y"] == pytest.approx(min(ys), abs=4)
        assert drawn["x"] + drawn["width"] == pytest.approx(max(xs), abs=4)
        assert drawn["y"] + drawn["height"] == pytest.approx(max(ys), abs=4)
    assert trouble == []


async def test_in_target_is_tapped_and_keyed_where_there_is_a_target_only(browser: Browser) -> None:
    lesson, trouble = RememberingLesson(at(Phase.RUNNING)), []
    async with serve(lesson) as served:
        page = await in_control(await new_page(browser, PHONE, trouble), served)
        button = page.locator('[data-control="target"]')
        await expect(button).to_be_hidden()
        lesson.change(aiming(at(Phase.RUNNING)))
        await expect(button).to_be_visible()
        await button.click()
        await page.keyboard.press("0")
        await page.keyboard.press("PageDown")
        told = await heard(lesson, 3)
        assert [msgspec.structs.replace(one, ago_s=0.0) for one in told] == [
            RecordResult(result=Result.TARGET)
        ] * 3
    assert trouble == []


@pytest.mark.parametrize("size", [SMALL, PHONE, PHONE_ON_ITS_SIDE], ids=["320", "390", "side"])
async def test_nothing_is_cut_off_and_every_button_stays_large_enough(
    browser: Browser, size: dict[str, int]
) -> None:
    lesson, trouble = RememberingLesson(aiming(at(Phase.RUNNING))), []
    async with serve(lesson) as served:
        page = await in_control(await new_page(browser, size, trouble), served)
        await page.wait_for_selector("#aims:visible")
        assert await page.evaluate(TOO_WIDE) == []
        assert await page.evaluate(TOO_SMALL) == []
        assert await stop_is_on_screen(page)
        for one in ("target", "in", "net", "long", "left", "right"):
            await expect(page.locator(f'[data-control="{one}"]')).to_be_in_viewport(ratio=1)
    assert trouble == []
