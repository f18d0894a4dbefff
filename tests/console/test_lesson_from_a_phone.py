"""A whole lesson driven from the page: real engine, real driver, real stand-in, real browser."""

from __future__ import annotations

import time
from collections import Counter
from contextlib import asynccontextmanager
from pathlib import Path

import anyio
import pytest

from feedscript.console.access import Role
from feedscript.console.serve import serve
from feedscript.review.lesson import read_lesson
from feedscript.safety.front_door import examine
from feedscript.session.journal import open_journal
from feedscript.session.opened import Links, opened_lesson
from feedscript.session.opening import Setting
from feedscript.session.states import Phase
from tests.console.browser import PHONE, SCREEN, chromium, new_page

pytestmark = pytest.mark.anyio

PROGRAM = """feedscript 1
title "From a phone (invented)"
court    {{ surface hard }}
balls    {{ type 2   load 60 }}
launcher {{ stands 1 m behind centre mark }}
group    {{ players "Ash", "Birch", "Cedar"  stage yellow  level club }}
feed deep {{ land 3 m inside baseline, 1.5 m inside ad sideline   speed 80 km/h   within 1 m }}
lesson {{
    show speed of deep
    for each player {{
        say "Back to the middle."
        repeat {times} {{ send deep after 2 s }}
        rest 3 s
    }}
}}
"""
RESULTS = ("in", "in", "long", "in", "net", "left", "in", "right")


@asynccontextmanager
async def running(text: str, journal_path: Path):
    """The lesson, running on the stand-in, and the console in front of it."""
    verdict = examine(Path("phone.feed"), text=text)
    assert verdict.plan is not None, [d.message for d in verdict.diagnostics]
    journal = open_journal(journal_path)
    setting = Setting(source="phone.feed", rehearsal=True, wall_utc_s=time.time())
    try:
        async with (
            opened_lesson(
                verdict.plan, verdict.profiles, Links(urls=("sim:",)), journal, setting
            ) as engine,
            serve(engine) as served,
            anyio.create_task_group() as group,
        ):
            group.start_soon(engine.run)
            try:
                yield engine, served
            finally:
                group.cancel_scope.cancel()
    finally:
        journal.close()


async def phase(engine, *wanted: Phase, within_s: float = 30.0) -> None:
    with anyio.fail_after(within_s):
        while engine.state.phase not in wanted:
            await anyio.sleep(0.02)


async def set_up_and_go(page, engine) -> None:
    """What a coach taps, in the order in which the page asks for it."""
    await page.click("#take")
    await page.wait_for_selector("#steps button")
    while await page.locator('#steps button[aria-pressed="false"]').count():
        left = await page.locator('#steps button[aria-pressed="false"]').count()
        await page.locator('#steps button[aria-pressed="false"]').first.click()
        await page.wait_for_function(
            "n => document.querySelectorAll('#steps button[aria-pressed=\"false\"]').length < n",
            arg=left,
        )
    await page.click('[data-act="clear"]')  # armed meanwhile by the stand-in's simulated person
    await page.click('[data-act="seen"]')
    await page.click('[data-act="go-on"]')
    await phase(engine, Phase.RUNNING)


async def tap_results(page, engine, count: int, picture: Path | None = None) -> list[str]:
    """Tap a result for each ball as it can be seen, until ``count`` are recorded."""
    tapped: list[str] = []
    while len(tapped) < count:
        done = await recorded(page)
        result = RESULTS[len(tapped) % len(RESULTS)]
        with anyio.fail_after(20):
            while await recorded(page) == done:
                await page.click(f'[data-result="{result}"]')
                await anyio.sleep(0.4)
        tapped.append(result)
        if picture is not None and len(tapped) == count // 2:
            await page.screenshot(path=picture)
    assert engine.state.phase in (Phase.RUNNING, Phase.DISARMING, Phase.FINISHED)
    return tapped


async def recorded(page) -> int:
    """How many results the page itself shows as recorded."""
    return int(await page.get_attribute("#recorded", "data-count"))


async def conduct(times: int, taps: int, tmp_path: Path) -> None:
    journal_path = tmp_path / "journal.sqlite"
    trouble: list[str] = []
    async with (
        running(PROGRAM.format(times=times), journal_path) as (engine, served),
        chromium() as browser,
    ):
        page = await new_page(browser, PHONE, trouble)
        await page.goto(served.pairing_link(Role.COACH))
        viewer = await new_page(browser, SCREEN, trouble)
        await viewer.goto(served.pairing_link(Role.VIEWER))
        projector = await new_page(browser, SCREEN, trouble)
        await projector.goto(served.pairing_link(Role.VIEWER))
        await projector.wait_for_selector("#next-up")
        await projector.goto(f"{served.url}/projector")
        await set_up_and_go(page, engine)
        tapped = await tap_results(page, engine, taps // 2, tmp_path / "phone.png")
        await viewer.screenshot(path=tmp_path / "group.png")

        await page.click("#undo")
        taken_back = tapped.pop()
        await page.click('[data-act="hold"]')
        await phase(engine, Phase.HELD)
        left = engine.state.balls_left
        await anyio.sleep(2.5)
        assert engine.state.balls_left == left  # nothing leaves while held
        await page.click('[data-act="go-on"]')
        await phase(engine, Phase.RUNNING)

        await page.goto("about:blank")  # the phone sleeps; the lesson goes on without it
        await anyio.sleep(1.0)
        assert engine.state.phase is Phase.RUNNING
        await page.goto(served.url)
        await page.wait_for_selector('[data-result="in"]:enabled')
        tapped += await tap_results(page, engine, taps - len(tapped))
        assert await projector.inner_text("#on") in ("Ash", "Birch", "Cedar", "–")
        await page.click("#stop")
        await phase(engine, Phase.STOPPED, Phase.FINISHED)
    journal = open_journal(journal_path)
    lesson = read_lesson(journal)
    journal.close()
    made = Counter(ball.result.value for ball in lesson.balls if ball.result)
    assert made.total() >= len(tapped)
    assert {ball.player for ball in lesson.balls if ball.result} <= {"Ash", "Birch", "Cedar"}
    assert taken_back
    assert trouble == []


@pytest.mark.timeout(110)
async def test_a_short_lesson_is_driven_from_the_page(tmp_path: Path) -> None:
    await conduct(times=4, taps=8, tmp_path=tmp_path)


@pytest.mark.long
@pytest.mark.timeout(400)
async def test_forty_results_are_tapped_in_a_whole_lesson(tmp_path: Path) -> None:
    await conduct(times=18, taps=40, tmp_path=tmp_path)
