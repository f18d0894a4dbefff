"""Where several stations are on, a coach says whose balls the pad records: all, or one's."""

from __future__ import annotations

import msgspec
import pytest
from playwright.async_api import Browser, expect

from feedscript.console.access import Role
from feedscript.console.serve import serve
from feedscript.plan.model import Result
from feedscript.session.operator.commands import RecordResult
from feedscript.session.operator.phases import Phase
from feedscript.session.operator.view import LessonView, StationNow
from tests.console.accessible import violations
from tests.console.browser import SMALL, new_page
from tests.console.lesson import RememberingLesson
from tests.session.operator.seen_views import at

pytestmark = pytest.mark.anyio


def with_stations(*names: str) -> LessonView:
    stations = tuple(StationNow(name=name, on="Alder", next_up="Birch") for name in names)
    return msgspec.structs.replace(at(Phase.RUNNING), stations=stations)


async def test_the_pad_records_the_station_that_was_chosen(browser: Browser) -> None:
    lesson, trouble = RememberingLesson(with_stations("west", "east")), []
    async with serve(lesson) as served:
        page = await new_page(browser, SMALL, trouble)
        await page.goto(served.pairing_link(Role.COACH))
        await page.click("#take")
        await page.wait_for_selector("#take", state="hidden")
        await expect(page.get_by_label("I record")).to_have_value("")
        await page.click('[data-control="in"]')
        await page.get_by_label("I record").select_option("east")
        await page.click('[data-control="net"]')
        while len(lesson.told) < 2:
            await page.wait_for_timeout(20)
        assert not await violations(page)
        assert await page.evaluate("document.documentElement.scrollWidth <= innerWidth")
    told = [one for one, _ in lesson.told if isinstance(one, RecordResult)]
    assert [(one.result, one.station) for one in told] == [(Result.IN, ""), (Result.NET, "east")]
    assert not trouble


async def test_with_one_station_nothing_is_asked(browser: Browser) -> None:
    async with serve(RememberingLesson(with_stations(""))) as served:
        page = await new_page(browser, SMALL, [])
        await page.goto(served.pairing_link(Role.COACH))
        await expect(page.locator('[data-control="in"]')).to_be_visible()
        await expect(page.locator("#whose")).to_be_hidden()
