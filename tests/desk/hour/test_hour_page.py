"""The hour in a real browser: put elsewhere and stretched by hand and by keys, words following."""

from __future__ import annotations

from collections.abc import AsyncIterator
from pathlib import Path

import pytest
from playwright.async_api import BrowserContext, Page, expect

from tests.console.accessible import violations
from tests.console.browser import chromium
from tests.desk.desk_process import desk_on

pytestmark = pytest.mark.anyio

SIZES = tuple({"width": w, "height": h} for w, h in ((1280, 800), (1024, 768), (390, 844)))
THREE = """feedscript 1
title "Three"
court { surface hard  fence 3 m high, 6 m behind baseline }
balls { type 2  load 60 }
launcher { profile "garage.toml"  stands 1 m behind centre mark }
group { players "Ash", "Beech"  level club }
let pause = 12 s
feed deep { land 3 m inside baseline, on centre line  speed 80 km/h }
lesson of 20 min {
    show speed of deep
    # the first
    exercise "One" for 4 min { for each player { repeat 4 { send deep after 5 s }  rest pause } }
    collect
    exercise "Two" for 6 min { for each player { repeat 5 { send deep after 5 s }  rest 12 s } }
    break 2 min "water"
}
expect {
    no player waits longer than 5 min
    deep clears net by 0.4 m
    60 % of deep within 1 m
}
"""
ONE, TWO = (
    THREE[THREE.index(begin) : THREE.index(end)].rstrip()
    for begin, end in (("# the first", "    collect"), ('exercise "Two"', "    break"))
)
SWAPPED = THREE.replace(ONE, "ONE").replace(TWO, ONE).replace("ONE", TWO, 1)


@pytest.fixture(scope="module")
def anyio_backend() -> str:
    return "asyncio"


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("coach")


@pytest.fixture(scope="module")
async def paired(anyio_backend: str, folder: Path) -> AsyncIterator[tuple[BrowserContext, str]]:
    async with chromium() as browser:
        with desk_on(folder) as link:
            context = await browser.new_context(viewport=SIZES[0])  # type: ignore[arg-type]
            page = await context.new_page()
            await page.goto(link)
            await expect(page.locator("#verdict")).to_contain_text("it passes")
            await page.close()
            yield context, link.split("#")[0]


@pytest.fixture
def program(folder: Path) -> Path:
    path = folder / f"three-{len(list(folder.glob('*.feed')))}.feed"
    path.write_text(THREE, "utf-8")
    return path


@pytest.fixture
async def desk(paired: tuple[BrowserContext, str], program: Path) -> AsyncIterator[Page]:
    """A page with the program open and its hour drawn; nothing goes wrong in it unseen."""
    context, address = paired
    page = await context.new_page()
    trouble: list[str] = []
    page.on("pageerror", lambda error: trouble.append(str(error)))
    page.on("console", lambda said: trouble.append(said.text) if said.type == "error" else None)
    await page.goto(f"{address}#{program.stem}")
    await expect(page.locator(".block")).to_have_count(5)
    yield page
    await page.close()
    assert not trouble


async def saved(desk: Page, program: Path) -> str:
    await expect(desk.locator("#kept")).to_have_text("saved")
    return program.read_text("utf-8")


async def middle(desk: Page, name: str) -> tuple[float, float]:
    box = await desk.locator(".block", has_text=name).bounding_box()
    assert box is not None
    return box["x"] + box["width"] / 2, box["y"] + box["height"] / 2


async def test_an_exercise_is_dragged_to_another_place(desk: Page, program: Path) -> None:
    await desk.mouse.move(*await middle(desk, "1 One"))
    await desk.mouse.down()
    await desk.mouse.move(*await middle(desk, "2 Two"), steps=5)
    await expect(desk.locator(".block.into")).to_contain_text("Two")
    await desk.mouse.up()
    await expect(desk.locator(".line-said")).to_have_text("One now comes after Two.")
    await expect(desk.locator(".block", has_text="1 Two")).to_be_visible()
    assert await saved(desk, program) == SWAPPED
    await desk.locator(".cm-content").click()
    await desk.keyboard.press("Control+z")
    await expect(desk.locator(".block", has_text="1 One")).to_be_visible()
    assert await saved(desk, program) == THREE


async def test_keys_put_it_elsewhere_and_stretch_it_and_keep_it_under_the_hand(
    desk: Page, program: Path
) -> None:
    await desk.locator(".block").first.focus()
    await desk.keyboard.press("ArrowRight")
    await expect(desk.locator(".block", has_text="One")).to_be_focused()
    await desk.keyboard.press("Alt+ArrowRight")
    moved = desk.locator(".block", has_text="2 One")
    await expect(moved).to_be_focused()
    assert await saved(desk, program) == SWAPPED
    await desk.keyboard.press("Alt+Shift+ArrowRight")
    await expect(desk.locator(".cm-content")).to_contain_text('"One" for 5 min')
    await expect(moved).to_be_focused()
    assert await saved(desk, program) == SWAPPED.replace("for 4 min", "for 5 min")
    await desk.keyboard.press("Alt+ArrowRight")
    await expect(desk.locator(".line-said")).to_have_text("One stays where it is.")


async def test_an_edge_is_dragged_and_the_minutes_follow(desk: Page, program: Path) -> None:
    edge = await desk.locator(".block", has_text="2 Two").locator(".edge").bounding_box()
    assert edge is not None
    x, y = edge["x"] + 3, edge["y"] + 10
    await desk.mouse.move(x, y)
    await desk.mouse.down()
    await desk.mouse.move(x + 5, y)
    await desk.mouse.move(x + (await minute_px(desk)) * 3, y, steps=4)
    await expect(desk.locator(".line-said")).to_contain_text("Planned for 9 min")
    await desk.mouse.up()
    await expect(desk.locator(".cm-content")).to_contain_text('"Two" for 9 min')
    assert await saved(desk, program) == THREE.replace("for 6 min", "for 9 min")


async def minute_px(desk: Page) -> float:
    """How wide a minute is drawn, by two exercises of which one is two minutes longer."""
    two, one = desk.locator(".block", has_text="2 Two"), desk.locator(".block", has_text="1 One")
    wide = [await each.evaluate("(b) => b.getBoundingClientRect().width") for each in (two, one)]
    return (wide[0] - wide[1]) / 2


async def test_a_number_by_a_name_is_offered_both_ways(desk: Page, program: Path) -> None:
    await desk.locator(".block", has_text="1 One").click()
    await expect(desk.locator(".w-chosen").first).to_contain_text("exercise")
    field = desk.get_by_label("rest s")
    await field.fill("15")
    await field.press("Enter")
    await expect(desk.locator(".line-said")).to_contain_text("written by a name")
    await desk.get_by_role("button", name="Change pause wherever it is used").click()
    await expect(desk.locator(".cm-content")).to_contain_text("let pause = 15 s")
    assert await saved(desk, program) == THREE.replace("pause = 12 s", "pause = 15 s")


async def test_moments_and_children_are_told_with_the_way_to_their_words(desk: Page) -> None:
    await desk.get_by_text("Who does what").click()
    rows = desk.locator(".children tbody tr")
    await expect(rows).to_have_count(2)
    await expect(rows.first).to_contain_text("Ash")
    await expect(rows.first.locator("td").nth(1)).to_have_text("9")
    await desk.get_by_text("The tightest moments").click()
    hopper = desk.locator(".moment", has_text="Balls until the next collect")
    await expect(hopper).to_contain_text("up to 10 balls between two collects, 60 loaded")
    await hopper.click()
    await expect(desk.locator(".cm-activeLine")).to_contain_text('exercise "Two"')


async def test_an_expectation_shows_its_worst_case_and_is_decided_by_drawn_balls(
    desk: Page,
) -> None:
    waits, clears, within = (desk.locator(".expected").nth(number) for number in range(3))
    await waits.click()
    shown = await desk.locator(".children tr.shown th").inner_text()
    await expect(waits).to_contain_text(f"{shown} waits up to")
    await clears.click()
    await expect(clears).to_have_attribute("aria-pressed", "true")
    await expect(desk.locator(".w-chosen")).to_contain_text("clears")
    await expect(desk.locator("#above .worst circle")).to_have_count(1)
    room = await desk.locator("#side .worst text").text_content()
    assert room is not None
    await expect(clears).to_contain_text(f"{room} over the net")
    # The bar stands on the cord: 0.914 m in the middle (ITF Rules of Tennis, 1).
    foot = await desk.locator("#side .worst .got").get_attribute("y1")
    assert float(foot or 0) == pytest.approx(-0.914, abs=0.001)
    await expect(within.get_by_role("img", name="not decided")).to_be_visible()
    await desk.get_by_role("button", name="Decide by 2000 drawn balls").click()
    await expect(within.get_by_role("img", name="holds")).to_be_visible(timeout=20_000)
    await expect(within).to_contain_text("of 2000 balls")
    await within.click()
    await expect(desk.locator("#above .worst .asked")).to_have_attribute("r", "1")
    await within.click()
    await expect(desk.locator(".worst")).to_have_count(0)


async def test_a_shipped_hour_is_looked_at(desk: Page) -> None:
    await desk.locator("#choose").click()
    await desk.locator("#shipped-list button", has_text="wednesday-six").click()
    await expect(desk.locator(".block")).to_have_count(10)
    await desk.locator(".block", has_text="1 Warm-up").focus()
    await desk.keyboard.press("Alt+ArrowRight")
    await expect(desk.locator(".line-said")).to_contain_text("copy it, to change it")
    await expect(desk.locator(".block", has_text="1 Warm-up")).to_be_visible()


async def test_words_that_are_not_understood_leave_the_last_line_faded(desk: Page) -> None:
    await desk.locator(".cm-line", has_text="the first").click()
    await desk.keyboard.press("End")
    await desk.keyboard.press("Enter")
    await desk.keyboard.type("exercise")
    await expect(desk.locator("#hour")).to_have_class("stale")
    await expect(desk.locator(".block")).to_have_count(5)


async def test_everybody_can_read_and_work_it(desk: Page) -> None:
    """Rules: Web Content Accessibility Guidelines 2.1, levels A and AA, as axe-core tests them."""
    await desk.locator(".block", has_text="1 One").click()
    await desk.get_by_text("Who does what").click()
    await desk.get_by_text("The tightest moments").click()
    for size in SIZES:
        await desk.set_viewport_size(size)  # type: ignore[arg-type]
        if size["width"] < 700:
            await desk.locator("#tab-hour").click()
        assert await desk.evaluate("document.documentElement.scrollWidth - innerWidth") <= 0
        for scheme in ("light", "dark"):
            await desk.emulate_media(color_scheme=scheme)  # type: ignore[arg-type]
            assert not await violations(desk, "#hour"), (size, scheme)
