"""Lessons without a terminal: chosen, begun, ended, gone on with and followed by another, all on a
phone, with the command itself and a stand-in of its own behind it."""

from __future__ import annotations

import queue
import re
import subprocess
import threading
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

import anyio
import pytest
from playwright.async_api import Error, Route

from tests.console.accessible import violations
from tests.console.browser import PHONE, SMALL, TOO_SMALL, TOO_WIDE, chromium, new_page
from tests.simulator.stand_in_process import FEEDSCRIPT, stand_in

pytestmark = [pytest.mark.anyio, pytest.mark.real_time]

PROGRAM = """feedscript 1
title "Short one (invented)"
court    { surface hard }
balls    { type 2   load 80 }
launcher { stands 1 m behind centre mark }
group    { players "Ash", "Birch"  stage yellow  level club }
feed deep { land 3 m inside baseline, 1.5 m inside ad sideline   speed 80 km/h   within 1 m }
lesson {
    show speed of deep
    for each player { repeat 10 { send deep after 3 s }  rest 4 s }
}
"""


@contextmanager
def court_side(folder: Path, *words: str) -> Iterator[str]:
    """The command with this folder; the link that pairs a coach's device."""
    process = subprocess.Popen(
        [*FEEDSCRIPT, "court-side", *words, "--journal", str(folder / "j.sqlite"), str(folder)],
        stdin=subprocess.DEVNULL,
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
    )
    said: queue.Queue[str] = queue.Queue()

    def listen() -> None:
        for line in process.stdout or ():
            said.put(line)

    threading.Thread(target=listen, daemon=True).start()
    try:
        while True:
            found = re.search(r"http://\S+#\S+", said.get(timeout=30))
            if found:
                break
        yield found[0]
    finally:
        process.terminate()
        process.wait(20)


async def opened(page) -> None:
    """The lesson's page is there; a device that was in control before still is."""
    await page.wait_for_selector("#steps button", timeout=30_000)
    await anyio.sleep(0.5)
    if await page.locator("#take").is_visible():
        await page.click("#take")


async def steps_done(page) -> None:
    """The set-up list, as a coach taps it."""
    await opened(page)
    while await page.locator('#steps button[aria-pressed="false"]').count():
        left = await page.locator('#steps button[aria-pressed="false"]').count()
        await page.locator('#steps button[aria-pressed="false"]').first.click()
        await page.wait_for_function(
            "n => document.querySelectorAll('#steps button[aria-pressed=\"false\"]').length < n",
            arg=left,
        )


async def press(page, *names: str) -> None:
    for name in names:
        await page.wait_for_selector(f'[data-control="{name}"]:enabled', timeout=30_000)
        await anyio.sleep(0.5)  # a person reads what is asked
        await page.click(f'[data-control="{name}"]')


async def end(page) -> None:
    await press(page, "stop", "quit")
    with anyio.fail_after(40):
        while not await page.locator("#list li button").count():
            # Results may still be tapped where balls have left: then a coach says when it is over.
            with suppress(Error):  # it is over by itself meanwhile
                await page.click('button:has-text("Another lesson")', timeout=1000)
            await anyio.sleep(0.2)


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    (tmp_path / "short.feed").write_text(PROGRAM)
    (tmp_path / "wrong.feed").write_text(PROGRAM.replace("80 km/h", "900 km/h"))
    return tmp_path


@pytest.mark.long
@pytest.mark.timeout(180)
async def test_a_whole_evening_from_the_phone(folder: Path) -> None:
    trouble: list[str] = []
    with stand_in("--pty") as (_, _, url), court_side(folder, "--on", url) as link:
        async with chromium() as browser:
            page = await new_page(browser, PHONE, trouble)
            await page.goto(link)
            await page.wait_for_selector("#list li button")
            await look(page, folder, "list")
            await page.click("text=it has a mistake")
            await page.wait_for_selector("#said:has-text('refused')", timeout=30_000)
            assert await page.locator("#by button").count() == 0
            await look(page, folder, "refused")
            await page.click("#back")
            await page.click("text=Short one (invented)")
            await page.wait_for_selector("#said:has-text('It passes the check: 21 balls at most')")
            await look(page, folder, "passed")
            # A rehearsal first: it says what it is, and nothing is armed by having chosen it.
            await page.click("text=Rehearse: simulated launcher")
            await opened(page)
            assert "Rehearsal" in await page.inner_text("main")
            await end(page)
            assert "Lesson 1 was broken off" in await page.inner_text("#ended")
            assert await page.locator("text=To go on with").count() == 0  # of a rehearsal
            # The lesson itself, broken off in its middle, and gone on with.
            await page.click("text=Short one (invented)")
            await page.click("text=Begin on", timeout=30_000)
            await steps_done(page)
            await press(page, "clear", "seen", "go-on")
            await page.wait_for_function(
                "() => /^[2-9] /.test(document.getElementById('balls').textContent)", timeout=60_000
            )
            await end(page)
            first = page.locator("#list li button").first
            words = r"Go on with “Short one \(invented\)”\s*\d+ of 21 balls sent"
            assert re.search(words, await first.inner_text())
            await look(page, folder, "broken-off")
            await first.click()
            await page.wait_for_selector("#said:has-text('goes on where it was')")
            assert await page.locator("text=Rehearse").count() == 0
            await page.click("text=Begin on")
            await opened(page)
            await end(page)
    # Between one page and the next nobody answers for a moment; and a program was refused.
    known = ("409", "ERR_", "WebSocket")
    assert [one for one in trouble if not any(word in one for word in known)] == []


async def look(page, folder: Path, name: str) -> None:
    """Nothing is cut off or too small for a thumb, on the smallest phone too; axe finds nothing."""
    for size in (SMALL, PHONE):
        await page.set_viewport_size(size)
        assert await page.evaluate(TOO_WIDE) == []
        assert await page.evaluate(TOO_SMALL) == []
    assert await violations(page) == {}
    await page.screenshot(path=folder / f"{name}.png", full_page=True)


async def test_the_verdict_is_of_what_was_chosen_last(folder: Path) -> None:
    """Two programs of one title: the check's answer for the first comes after the other's."""
    (folder / "hasty.feed").write_text(PROGRAM.replace("after 3 s", "after 0.2 s"))
    held: list[Route] = []
    async with chromium() as browser:
        with court_side(folder) as link:
            page = await new_page(browser, PHONE, [])
            await page.route("**/judged", lambda route: held.append(route))
            await page.goto(link)
            for file in ("short", "hasty"):
                await page.click(f'#list button:has(.about:text-matches("^{file}"))')
                await page.click("#back")
            await page.click('#list button:has(.about:text-matches("^hasty"))')
            with anyio.fail_after(20):
                while len(held) < 3:
                    await anyio.sleep(0.02)
            for route in (held[2], held[0], held[1]):
                await route.fulfill(response=await route.fetch())
                await anyio.sleep(0.3)
            await page.wait_for_selector("#said:has-text('It is refused')")
            assert await page.locator("#by button").count() == 0
