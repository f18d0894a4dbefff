"""The sliders of the chosen feed in a real browser."""

from __future__ import annotations

from collections.abc import AsyncIterator
from pathlib import Path

import pytest
from playwright.async_api import Page, expect

from tests.console.accessible import violations
from tests.desk.test_page import (
    SIZES,
    Paired,
    anyio_backend,
    folder,
    paired,
    write,
)

__all__ = ["anyio_backend", "folder", "paired"]

pytestmark = pytest.mark.anyio

SLID = """feedscript 1
title "Slid"
court { surface hard }
balls { type 2  load 60 }
launcher { profile "garage.toml"  stands 1 m behind centre mark }
group { 4 players  level club  receiver 1 m behind baseline, on centre line }
let tempo = 5 s
feed deep { land 3 m inside baseline, on centre line  speed 80 km/h }
feed other = deep with { land 4 m inside baseline, on centre line }
lesson {
    show speed of deep
    for each player { repeat 4 { send deep after tempo  send other after 5 s }  rest 10 s }
}
"""


@pytest.fixture
def program(folder: Path) -> Path:
    path = folder / f"slid-{len(list(folder.glob('*.feed')))}.feed"
    path.write_text(SLID, "utf-8")
    return path


@pytest.fixture
async def desk(paired: Paired, program: Path) -> AsyncIterator[Page]:
    """The page with the feed chosen and its sliders there."""
    trouble: list[str] = []
    page = await paired.page(program, trouble)
    await page.wait_for_load_state("networkidle")  # what is drawn anew takes no click
    await page.locator("#feeds button", has_text="deep").click()
    await expect(page.locator("#slider-speed")).to_be_visible(timeout=20_000)
    yield page
    await page.close()
    assert not trouble


async def test_a_slider_shows_its_ball_and_changes_the_words(desk: Page, program: Path) -> None:
    speed = desk.locator("#slider-speed")
    words = speed.locator("xpath=..").locator(".reading")
    before = await words.inner_text()
    assert "over the net, met" in before
    assert await speed.locator("xpath=..").locator(".band .allowed").count() == 1
    await speed.evaluate("(one) => one.scrollIntoView({ block: 'center' })")
    box = await speed.bounding_box()
    assert box is not None
    await desk.mouse.move(box["x"] + box["width"] * 0.6, box["y"] + box["height"] / 2)
    await desk.mouse.down()
    await desk.mouse.move(box["x"] + box["width"] * 0.8, box["y"] + box["height"] / 2, steps=4)
    await expect(desk.locator("#above .tried-ball")).to_be_attached()
    await expect(desk.locator("#side .tried-ball")).to_be_visible()
    assert await words.inner_text() != before
    assert program.read_text("utf-8") == SLID  # nothing is written while it moves
    wanted = await speed.input_value()
    await desk.mouse.up()
    await expect(desk.locator(".cm-content")).to_contain_text(f"speed {wanted} km/h")
    await expect(desk.locator("#kept")).to_have_text("saved")
    assert program.read_text("utf-8") == SLID.replace("speed 80", f"speed {wanted}")
    await expect(desk.locator(".tried-ball")).to_have_count(0)
    await desk.locator(".cm-content").click()
    await desk.keyboard.press("Control+z")
    await expect(desk.locator(".cm-content")).to_contain_text("speed 80 km/h")


async def test_keys_slide_and_what_is_not_said_yet_is_added(desk: Page, program: Path) -> None:
    spin = desk.locator("#slider-top")
    await spin.focus()
    for _ in range(3):
        await desk.keyboard.press("ArrowRight")
    now = await spin.input_value()
    await expect(desk.locator(".cm-content")).to_contain_text(f"spin top {now} rpm")
    await expect(spin).to_be_focused()
    await expect(desk.locator("#kept")).to_have_text("saved")
    said = SLID.replace("speed 80 km/h }", f"speed 80 km/h  spin top {now} rpm }}")
    assert program.read_text("utf-8") == said


async def test_words_that_ask_for_more_than_there_is_are_told_as_they_stand(desk: Page) -> None:
    """The slider ends where its launcher does, and must not tell that end as what was asked."""
    await desk.locator(".cm-content").click()
    await write(desk, "80", "200")
    speed = desk.locator(".slider", has=desk.locator("#slider-speed"))
    await expect(speed.locator("b")).to_have_text("200 km/h")
    await expect(speed.locator(".reading")).to_contain_text("more or less than can be had here")


async def test_a_feed_of_another_file_is_only_looked_at(paired: Paired, program: Path) -> None:
    used = SLID.replace("let tempo", 'use "library/warm_up.feed" as warm\nlet tempo')
    sent = used.replace(
        "show speed of deep", "show speed of deep  send warm.full_court after 6 s  rest 10 s"
    )
    program.write_text(sent, "utf-8")
    page = await paired.page(program, [])
    await page.locator("#feeds button", has_text="full_court").click()
    await expect(page.locator("#sliders h3")).to_contain_text("another file", timeout=20_000)
    await expect(page.locator("#slider-speed")).to_be_disabled()
    await page.close()


async def test_a_time_by_a_name_is_offered_both_ways(desk: Page, program: Path) -> None:
    gap = desk.locator("#slider-gap-0")
    await expect(gap).to_have_value("5")
    await gap.focus()
    await desk.keyboard.press("ArrowRight")
    await desk.get_by_role("button", name="Change tempo wherever it is used").click()
    await expect(desk.locator(".cm-content")).to_contain_text("let tempo = 5.1 s")
    await expect(desk.locator("#kept")).to_have_text("saved")
    assert program.read_text("utf-8") == SLID.replace("tempo = 5 s", "tempo = 5.1 s")


@pytest.mark.parametrize("scheme", ["light", "dark"])
async def test_everybody_can_read_and_work_the_sliders(desk: Page, scheme: str) -> None:
    """Rules: Web Content Accessibility Guidelines 2.1, levels A and AA, as axe-core tests them."""
    await desk.emulate_media(color_scheme=scheme)  # type: ignore[arg-type]
    told = await desk.locator("#slider-speed").get_attribute("aria-valuetext")
    assert told is not None
    assert told.startswith("80 km/h; ")
    for size in SIZES:
        await desk.set_viewport_size(size)  # type: ignore[arg-type]
        if size["width"] < 700:
            await desk.locator("#tab-court").click()
        assert await desk.evaluate("document.documentElement.scrollWidth - innerWidth") <= 0
        assert not await violations(desk, "#court"), size
