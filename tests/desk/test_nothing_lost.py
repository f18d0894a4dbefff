"""Slow lines, lost answers, second taps: what was written is kept, and goes where it was meant."""

from __future__ import annotations

import re
from pathlib import Path

import anyio
import pytest
from playwright.async_api import Page, Route, WebSocketRoute, expect

from tests.desk.test_page import (
    DEEP,
    Paired,
    anyio_backend,
    desk,
    folder,
    paired,
    program,
    until_held,
    write,
)

__all__ = ["anyio_backend", "desk", "folder", "paired", "program"]

pytestmark = pytest.mark.anyio

SAVED_AFTER_S = 0.8  # see desk.js


async def test_what_is_written_while_it_is_saved_clashes_with_nobody(
    desk: Page, program: Path
) -> None:
    held: list[Route] = []

    async def hold(route: Route) -> None:
        if route.request.method == "PUT":
            held.append(route)
        else:
            await route.continue_()

    await desk.route("**/programs/deep-*", hold)
    await desk.locator(".cm-content").click()
    await write(desk, "club", "learner")
    await until_held(held)
    await write(desk, "900", "850")
    await anyio.sleep(SAVED_AFTER_S + 0.5)  # as long as a save waits for the hand to rest
    for _ in range(2):
        await until_held(held)
        await held.pop(0).continue_()
    await expect(desk.locator("#kept")).to_have_text("saved")
    await expect(desk.locator("#clash")).to_be_hidden()
    assert program.read_text("utf-8") == DEEP.replace("club", "learner").replace("900", "850")


async def test_a_clash_that_is_put_away_is_not_taken_for_saved(
    desk: Page, paired: Paired, program: Path
) -> None:
    await desk.locator(".cm-content").click()
    theirs = DEEP.replace("Deep", "Theirs")
    program.write_text(theirs, "utf-8")
    await write(desk, "900", "800")
    await expect(desk.locator("#clash")).to_be_visible()
    await expect(desk.locator("#kept")).to_contain_text("not saved")
    await desk.locator("#merge .cm-line", has_text="feedscript 1").click()
    await desk.keyboard.press("End")
    await desk.keyboard.type("  # both")
    await desk.keyboard.press("Escape")
    await expect(desk.locator("#editor .cm-content")).to_contain_text("# both")
    assert program.read_text("utf-8") == theirs
    await expect(desk.locator("#clash")).to_be_visible()  # asked again: nothing was decided
    await desk.locator("#merge-save").click()
    await expect(desk.locator("#kept")).to_have_text("saved")
    words = program.read_text("utf-8")
    assert words.startswith("feedscript 1  # both\n")
    assert "top 800 rpm" in words


async def test_a_server_that_fails_once_is_asked_again(paired: Paired, program: Path) -> None:
    page = await paired.page(program, [])  # the browser complains of the answer
    failed: list[str] = []

    async def once(route: Route) -> None:
        if route.request.method == "PUT" and not failed:
            failed.append(route.request.url)
            await route.fulfill(status=502, body="<h1>Bad gateway</h1>")
        else:
            await route.continue_()

    await page.route("**/programs/deep-*", once)
    await page.locator(".cm-content").click()
    await write(page, "club", "learner")
    await expect(page.locator("#kept")).to_contain_text("not saved")
    await expect(page.locator("#kept")).to_have_text("saved")
    assert "level learner" in program.read_text("utf-8")
    await page.close()


async def test_the_program_that_was_chosen_last_is_opened(desk: Page, folder: Path) -> None:
    held: list[Route] = []
    await desk.route(re.compile("/programs/.*wednesday-six"), lambda route: held.append(route))
    (folder / "other.feed").write_text(DEEP.replace("Deep", "Other"), "utf-8")
    for name in ("wednesday-six", "other"):
        await desk.locator("#choose").click()
        await desk.locator("#programs li button", has_text=name).first.click()
    await until_held(held)
    await expect(desk.locator("#title")).to_have_text("other")
    await held.pop().continue_()
    await anyio.sleep(0.5)
    await expect(desk.locator("#title")).to_have_text("other")


async def test_begin_tapped_twice_is_one_program(desk: Page, folder: Path) -> None:
    held: list[Route] = []
    await desk.route("**/programs/Twice", lambda route: held.append(route))
    await desk.locator("#choose").click()
    await desk.locator("#new-name").fill("Twice")
    await desk.locator("#make").click()
    await until_held(held)
    await held.pop().continue_()
    await until_held(held)  # it is saved, and asked for to be opened
    await desk.locator("#make").click(force=True)
    await anyio.sleep(0.5)
    await held.pop(0).continue_()
    await expect(desk.locator("#title")).to_have_text("Twice")
    assert sorted(path.stem for path in folder.glob("Twice*")) == ["Twice"]


@pytest.mark.parametrize("what", ["#earlier", "#choose"])
async def test_a_list_that_does_not_come_is_told(paired: Paired, program: Path, what: str) -> None:
    page = await paired.page(program, [])
    await page.route(re.compile("/programs$|/versions$"), lambda route: route.abort())
    await page.locator(what).click()
    await expect(page.locator("#kept")).to_contain_text("The desk does not answer")
    await page.close()


async def test_an_earlier_version_that_does_not_come_is_told(paired: Paired, program: Path) -> None:
    page = await paired.page(program, [])
    await page.locator(".cm-content").click()
    await write(page, "club", "learner")
    await expect(page.locator("#kept")).to_have_text("saved")
    await page.route(re.compile("/versions/"), lambda route: route.abort())
    await page.locator("#earlier").click()
    await page.locator("#version-list button").last.click()
    await expect(page.locator("#kept")).to_contain_text("The desk does not answer")
    await page.close()


async def test_a_change_that_was_offered_is_not_made_of_other_words(
    desk: Page, program: Path
) -> None:
    program.write_text(
        DEEP.replace("court {", "let far = 3 m\ncourt {").replace("land 3 m", "land far", 1),
        "utf-8",
    )
    await desk.reload()
    await desk.locator("#above [data-key='feed 0']").focus()
    await desk.keyboard.press("ArrowLeft")
    offered = desk.locator("#told button").first
    await expect(offered).to_be_visible()
    await desk.locator(".cm-content").click()
    await write(desk, '"Deep"', '"Deeper and longer"')
    await expect(desk.locator("#kept")).to_have_text("saved")
    before = program.read_text("utf-8")
    await offered.click()
    await expect(desk.locator("#told")).to_contain_text("The words changed meanwhile")
    await expect(desk.locator("#kept")).to_have_text("saved")
    await anyio.sleep(SAVED_AFTER_S + 0.5)
    assert program.read_text("utf-8") == before


async def test_a_fix_that_was_found_is_not_made_of_other_words(
    paired: Paired, program: Path
) -> None:
    """What is found in the newest words has not come yet: the fix of those before stands there."""
    page = await paired.context.new_page()
    slow: list[bool] = []

    def line(socket: WebSocketRoute) -> None:
        server = socket.connect_to_server()
        server.on_message(lambda message: None if slow else socket.send(message))

    await page.route_web_socket("**/words/**", line)
    program.write_text(DEEP.replace("km/h", "kmph"), "utf-8")
    await page.goto(f"{paired.address}#{program.stem}")
    await page.get_by_role("button", name="Look for a fix").first.click()
    fix = page.locator("#findings .fixes button.main").first
    await expect(fix).to_be_visible()
    slow.append(True)
    await page.locator(".cm-line", has_text="title").click()
    await page.keyboard.press("Home")
    await page.keyboard.type("\n\n")
    await expect(page.locator("#kept")).to_have_text("saved")
    before = program.read_text("utf-8")
    await fix.click()
    await anyio.sleep(SAVED_AFTER_S + 0.5)
    assert program.read_text("utf-8") == before
    await page.close()


async def test_a_number_that_is_being_typed_is_not_drawn_over(desk: Page, program: Path) -> None:
    program.write_text(
        DEEP.replace("lesson {", 'lesson of 30 min {\n    exercise "Depth" for 10 min {').replace(
            "rest 10 s }\n}", "rest 10 s }\n    }\n}"
        ),
        "utf-8",
    )
    await desk.reload()
    await expect(desk.locator("#hour .block").first).to_be_attached()
    await desk.locator("#hour .block", has_text="Depth").click()
    numbers = desk.locator("#hour .line-about input")
    assert await numbers.count() >= 2
    before = [await numbers.nth(at).get_attribute("aria-label") for at in (0, 1)]
    await numbers.nth(0).focus()
    await desk.keyboard.press("Control+a")
    await desk.keyboard.type("12")
    await desk.keyboard.press("Tab")
    await desk.keyboard.type("1")
    await expect(desk.locator(".cm-content")).to_contain_text("for 12 min")
    await anyio.sleep(1.5)  # by then the hour is drawn anew
    assert [await numbers.nth(at).get_attribute("aria-label") for at in (0, 1)] == before
    await desk.keyboard.type("2")
    await desk.keyboard.press("Enter")
    await expect(desk.locator(".cm-content")).to_contain_text("repeat 12 {")
