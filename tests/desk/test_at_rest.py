"""What the page wants beside the verdict and the picture waits until the hand rests, and what comes
too late is not shown. The page's clock stands still but where a test lets it go on."""

from __future__ import annotations

import json
from collections.abc import AsyncIterator, Callable
from pathlib import Path
from typing import NamedTuple

import anyio
import pytest
from playwright.async_api import Page, WebSocketRoute, expect

from tests.desk.test_page import Paired, anyio_backend, folder, paired, program, write

__all__ = ["anyio_backend", "folder", "paired", "program"]

pytestmark = pytest.mark.anyio

CHANGE = "textDocument/didChange"
BESIDE = {"feedscript/hour", "feedscript/reach", "textDocument/semanticTokens/full"}
#: Some time less than the hand must rest, and all of it.
NOT_YET_MS, AT_REST_MS = 150, 200
#: For what waits one turn of the page after another.
TURNS_MS = 20


class Heard(NamedTuple):
    """A page with a program; what it has asked, and answers that are kept from it."""

    page: Page
    asked: list[str]
    keep: set[str]  # answers to these are kept
    kept: list[Callable[[], None]]


@pytest.fixture
async def heard(paired: Paired, program: Path) -> AsyncIterator[Heard]:
    page = await paired.context.new_page()
    here = Heard(page, [], set(), [])
    await page.route_web_socket("**/words/**", lambda socket: _overheard(socket, here))
    await page.clock.install()
    await page.goto(f"{paired.address}#{program.stem}")
    await page.locator("#feeds button").first.click()
    await expect(page.locator("#slider-speed")).to_be_visible()
    await expect(page.locator("#kept")).to_have_text("saved")
    await page.clock.pause_at(await page.evaluate("Date.now()") + 10_000)
    await expect(page.locator("#hour .block")).not_to_have_count(0)
    here.asked.clear()
    yield here
    await page.clock.resume()  # the clock is of all pages of this browser
    await page.close()


def _overheard(socket: WebSocketRoute, here: Heard) -> None:
    server, methods = socket.connect_to_server(), dict[int, str]()

    def up(message: str | bytes) -> None:
        told = json.loads(message)
        here.asked.append(told.get("method", ""))
        if "id" in told:
            methods[told["id"]] = told.get("method", "")
        server.send(message)

    def down(message: str | bytes) -> None:
        if methods.get(json.loads(message).get("id", -1)) in here.keep:
            here.kept.append(lambda: socket.send(message))
        else:
            socket.send(message)

    socket.on_message(up)
    server.on_message(down)


async def typed(page: Page, speed: int) -> None:
    """The first feed's speed is another one, and the picture shows it."""
    await page.keyboard.press("Backspace")
    await page.keyboard.type(str(speed % 10))
    await expect(page.locator("#feeds button").first).to_contain_text(f"{speed} km/h")


async def test_nothing_is_asked_beside_the_check_before_the_hand_rests(heard: Heard) -> None:
    page = heard.page
    await write(page, "80", "81")
    for speed in (82, 83, 84):
        await typed(page, speed)
        await page.clock.run_for(NOT_YET_MS)
    assert set(heard.asked) == {CHANGE}
    await page.clock.run_for(AT_REST_MS - NOT_YET_MS + TURNS_MS)
    await expect(page.locator("label[for=slider-speed] b")).to_have_text("84 km/h")
    beside = [one for one in heard.asked if one != CHANGE]
    assert sorted(beside) == sorted(BESIDE)


async def test_a_cursor_that_comes_to_another_feed_is_no_rest(heard: Heard) -> None:
    """However it came there: here without a key and without a pointer."""
    page = heard.page
    await page.evaluate(
        """() => {
          const lines = [...document.querySelectorAll(".cm-line")];
          const wide = lines.find((one) => one.textContent.startsWith("feed wide"));
          document.querySelector(".cm-content").focus();
          getSelection().collapse(wide, 1);
        }"""
    )
    await expect(page.locator("#sliders h3")).to_contain_text("wide")
    await page.clock.run_for(NOT_YET_MS)
    assert "feedscript/reach" not in heard.asked
    await page.clock.run_for(AT_REST_MS - NOT_YET_MS + TURNS_MS)
    await expect(page.locator("#slider-speed")).to_be_visible()
    assert "feedscript/reach" in heard.asked


async def test_figures_of_older_words_are_shown_to_be_so_until_the_hand_rests(heard: Heard) -> None:
    page, sliders, figures = (
        heard.page,
        heard.page.locator("#sliders"),
        heard.page.locator(".slider-grid"),
    )
    await expect(sliders).to_have_attribute("aria-busy", "false")
    await expect(figures).to_have_css("opacity", "1")
    await write(page, "80", "81")
    await expect(sliders).to_have_attribute("aria-busy", "true")
    await expect(figures).to_have_css("opacity", "0.5")
    await expect(page.locator("#feeds button").first).to_contain_text("81 km/h")
    await expect(page.locator("label[for=slider-speed] b")).to_have_text("80 km/h")
    await expect(sliders).to_have_attribute("aria-busy", "true")
    await page.clock.run_for(AT_REST_MS + TURNS_MS)
    await expect(page.locator("label[for=slider-speed] b")).to_have_text("81 km/h")
    await expect(sliders).to_have_attribute("aria-busy", "false")
    await expect(figures).to_have_css("opacity", "1")


async def test_a_late_answer_about_words_that_are_no_more_is_not_shown(heard: Heard) -> None:
    page = heard.page
    heard.keep.add("feedscript/reach")
    await write(page, "80", "81")
    await expect(page.locator("#feeds button").first).to_contain_text("81 km/h")
    await page.clock.run_for(AT_REST_MS + TURNS_MS)
    with anyio.fail_after(30):
        while not heard.kept:
            await page.evaluate("null")
    heard.keep.clear()
    await typed(page, 82)
    (late,) = heard.kept
    late()
    assert await page.locator("label[for=slider-speed] b").text_content() == "80 km/h"
    await page.clock.run_for(AT_REST_MS + TURNS_MS)
    await expect(page.locator("label[for=slider-speed] b")).to_have_text("82 km/h")


async def test_a_pointer_that_is_pressed_is_no_rest(heard: Heard) -> None:
    """One that is only moved over the page is: sliders come while the hand goes to them."""
    page = heard.page
    await write(page, "80", "81")
    await expect(page.locator("#feeds button").first).to_contain_text("81 km/h")
    box = await page.locator("#side").bounding_box()
    assert box is not None
    await page.mouse.move(box["x"] + 9, box["y"] + 9)
    await page.mouse.down()
    for step in range(3):
        await page.clock.run_for(NOT_YET_MS)
        await page.mouse.move(box["x"] + 20 + step, box["y"] + 9)
    assert set(heard.asked) == {CHANGE}
    await page.mouse.up()
    await page.clock.run_for(NOT_YET_MS)
    await page.mouse.move(box["x"] + 40, box["y"] + 9)
    await page.clock.run_for(AT_REST_MS - NOT_YET_MS + TURNS_MS)
    await expect(page.locator("label[for=slider-speed] b")).to_have_text("81 km/h")
