"""What comes again as it was is not drawn again: it is neither made anew nor styled anew, so that a
key costs what it changed. How much is styled, Chromium itself counts, in its trace.
"""

from __future__ import annotations

from collections.abc import AsyncIterator
from pathlib import Path
from typing import Any, NamedTuple

import anyio
import pytest
from playwright.async_api import Page, WebSocket, expect

from tests.desk.test_page import Paired, anyio_backend, folder, paired, write

__all__ = ["anyio_backend", "folder", "paired"]

pytestmark = pytest.mark.anyio

HEAD = """feedscript 1
title "Many"
court { surface hard }
balls { type 2  load 60 }
launcher { profile "garage.toml"  stands 1 m behind centre mark }
group { 4 players  level club }
let pause = 12 s
"""
FEEDS = "".join(
    f"feed f{number} {{ land 3 m inside baseline, on centre line  speed {60 + number} km/h }}\n"
    for number in range(20)
)
LESSON = """lesson of 20 min {
    exercise "One" for 4 min { for each player { repeat 4 { send f0 after 5 s }  rest pause } }
    collect
    exercise "Two" for 6 min { for each player { repeat 4 { send f1 after 5 s }  rest 12 s } }
}
expect { f0 clears net by 0.3 m }
# as always
"""
#: What is drawn of a program, and may stay.
PARTS = "#above > *, #side > *, #feeds > *, #expected *, #hour *"
REMEMBER = """(parts) => {
  const all = [...document.querySelectorAll(parts)];
  window.before = all.filter((one) => !one.classList.contains("play-layer"));
}"""
#: Figures at the side are of the feed that is chosen.
GONE = """() => window.before.filter((one) => !one.isConnected && !one.matches("[class^=measure]"))
  .map((one) => one.outerHTML.slice(0, 60))"""
FRAMES = "new Promise((done) => requestAnimationFrame(() => requestAnimationFrame(done)))"
ITSELF_AND_THE_CURSOR = 2
PUT = """(among) => {
  const one = document.querySelector(among).children[1];
  one.replaceWith(one.cloneNode());
}"""


class Open(NamedTuple):
    """A page with the program; the hour's answers that have come to it."""

    page: Page
    hours: list[str]

    async def hour_again(self, before: int) -> None:
        """Until the hour of other words is drawn."""
        with anyio.fail_after(30):
            while len(self.hours) == before:
                await self.page.evaluate("null")
        await self.page.evaluate("new Promise(requestAnimationFrame)")


@pytest.fixture
async def opened(paired: Paired, folder: Path) -> AsyncIterator[Open]:
    path = folder / f"many-{len(list(folder.glob('*.feed')))}.feed"
    path.write_text(HEAD + FEEDS + LESSON, "utf-8")
    page = await paired.context.new_page()
    trouble: list[str] = []
    here = Open(page, [])
    page.on("pageerror", lambda error: trouble.append(str(error)))
    page.on("websocket", lambda socket: _overheard(socket, here.hours))
    await page.goto(f"{paired.address}#{path.stem}")
    await expect(page.locator("#hour .block")).not_to_have_count(0)
    await page.evaluate(REMEMBER, PARTS)
    yield here
    await page.close()
    assert not trouble


def _overheard(socket: WebSocket, hours: list[str]) -> None:
    def heard(frame: str | bytes) -> None:
        if '"tight":' in str(frame):
            hours.append(str(frame))

    socket.on("framereceived", heard)


async def test_words_that_change_nothing_leave_everything_as_it_is_drawn(opened: Open) -> None:
    before = len(opened.hours)
    await write(opened.page, "always", "ever")
    await opened.hour_again(before)
    assert await opened.page.evaluate(GONE) == []


async def test_a_feed_is_drawn_again_without_the_others(opened: Open) -> None:
    page, before = opened.page, len(opened.hours)
    await write(page, "65", "90")
    await opened.hour_again(before)
    before = len(opened.hours)
    await page.evaluate(REMEMBER, PARTS)
    await page.keyboard.insert_text(".6")
    await expect(page.locator("#feeds > *").nth(5)).to_contain_text("91 km/h")
    await opened.hour_again(before)
    gone: list[str] = await page.evaluate(GONE)
    assert len(gone) == len(("above", "at the side", "in the list")), gone


async def test_a_block_that_stayed_leads_to_where_its_words_have_come(opened: Open) -> None:
    page, before = opened.page, len(opened.hours)
    await write(page, "Many", "Much more of it")
    await opened.hour_again(before)
    await page.locator(".block", has_text="2 Two").click()
    await expect(page.locator(".w-chosen").first).to_contain_text('exercise "Two" for 6 min')
    await page.locator(".line-about input").first.fill("7")
    await page.keyboard.press("Enter")
    await expect(page.locator(".block", has_text="2 Two · 7 min")).to_be_visible()
    await expect(page.locator(".cm-content")).to_contain_text('exercise "Two" for 7 min')


@pytest.mark.parametrize("among", ["#above", "#side", "#feeds", ".line-steps"])
async def test_what_is_put_among_others_is_styled_alone(opened: Open, among: str) -> None:
    page = opened.page
    await page.locator("#feeds button").first.click()
    await expect(page.locator("#slider-speed")).to_be_visible()
    assert page.context.browser is not None
    tracing = await page.context.browser.new_browser_cdp_session()
    events: list[dict[str, Any]] = []
    ended = anyio.Event()
    tracing.on("Tracing.dataCollected", lambda told: events.extend(told["value"]))
    tracing.on("Tracing.tracingComplete", lambda _: ended.set())
    config = {"includedCategories": ["devtools.timeline"]}
    await tracing.send("Tracing.start", {"transferMode": "ReportEvents", "traceConfig": config})
    await page.evaluate(PUT, among)
    await page.evaluate(FRAMES)
    await tracing.send("Tracing.end")
    with anyio.fail_after(30):
        await ended.wait()
    styled = [one["args"]["elementCount"] for one in events if one["name"] == "UpdateLayoutTree"]
    assert max(styled) <= ITSELF_AND_THE_CURSOR
