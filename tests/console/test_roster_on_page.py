"""The group's table on the coach's phone: what each player had, and what is still to come."""

from __future__ import annotations

import msgspec
import pytest
from playwright.async_api import Browser

from feedscript.console.serve import serve
from feedscript.session.operator.phases import Phase
from feedscript.session.operator.view import ToComeView
from tests.console.accessible import violations
from tests.console.browser import PHONE, SMALL, TOO_WIDE, new_page
from tests.console.lesson import RememberingLesson
from tests.console.test_page import in_control
from tests.session.operator.seen_views import a_player, at

pytestmark = pytest.mark.anyio

TO_COME = {
    "Ash": ToComeView(balls=6, exact=True),
    "Bay": ToComeView(balls=12, exact=False),
    "Cob": None,
}


async def test_balls_to_come_stand_beside_those_that_each_had(browser: Browser) -> None:
    players = tuple(
        msgspec.structs.replace(a_player(name), to_come=one) for name, one in TO_COME.items()
    )
    lesson = RememberingLesson(msgspec.structs.replace(at(Phase.RUNNING), players=players))
    trouble: list[str] = []
    async with serve(lesson) as served:
        page = await in_control(await new_page(browser, PHONE, trouble), served)
        await page.click("#more > summary")

        cells = page.locator("#players tbody td:nth-child(2)")
        await page.wait_for_selector("#players tbody td")
        assert await cells.all_inner_texts() == ["3, 6 to come", "3, at most 12 to come", "3"]
        for size in (PHONE, SMALL):
            await page.set_viewport_size(size)
            assert await page.evaluate(TOO_WIDE) == [], size
            assert await violations(page) == {}, size
    assert trouble == []
