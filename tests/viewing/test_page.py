"""The page in a real browser: a court put right and balls judged, by hand and by keys alone."""

from __future__ import annotations

from collections.abc import AsyncIterator, Callable
from contextlib import asynccontextmanager
from pathlib import Path

import anyio
import axe_playwright_python
import numpy as np
import pytest
import uvicorn
from playwright.async_api import Page, expect

from feedscript.console.access import Access, Role
from feedscript.console.listening import listen
from feedscript.console.serve import page_config
from feedscript.session.engine.wall_clock import elapsed_s
from feedscript.tongues.tongue import Tongues
from feedscript.viewing.app import make_app
from feedscript.viewing.viewing import Viewing
from tests.console.browser import PHONE, TOO_SMALL, TOO_WIDE, chromium, new_page
from tests.console.test_nothing_outside_the_catalogues import SEEN
from tests.tongues import pseudo
from tests.tongues.test_nothing_outside import left_over
from tests.viewing.looked import LOST, begun, finds
from tests.watch.clips.shown import Shown

pytestmark = pytest.mark.anyio

AXE = Path(axe_playwright_python.__file__).with_name("axe.min.js")
SCREEN = {"width": 1280, "height": 800}
VIOLATIONS = "async () => (await axe.run()).violations.map((one) => [one.id, one.nodes[0].html])"
POINT = '.point[data-name="receiver t"]'


@pytest.fixture
def anyio_backend() -> str:
    return "asyncio"


@asynccontextmanager
async def served(viewing: Viewing, tongues: Tongues | None = None) -> AsyncIterator[str]:
    """The page in this process, until its person has finished; the link to it."""
    access, listening = Access(elapsed_s), listen(False, 0)

    def done() -> None:
        server.should_exit = True

    app = make_app(viewing, access, ("127.0.0.1",), done, tongues or Tongues())
    server = uvicorn.Server(page_config(app))
    async with anyio.create_task_group() as tasks:
        tasks.start_soon(server.serve, [listening.socket])
        with anyio.fail_after(30):
            while not server.started:
                await anyio.sleep(0.01)
        yield f"http://{listening.reached}/#{access.new_code(Role.COACH)}"
        server.should_exit = True
    viewing.give_up()


@asynccontextmanager
async def looked_at(
    viewing: Viewing,
    size: dict[str, int] = SCREEN,
    language: str = "en-GB",
    tongues: Tongues | None = None,
    trouble: list[str] | None = None,
) -> AsyncIterator[Page]:
    """The page as it opens; nothing goes wrong in it unseen."""
    trouble = [] if trouble is None else trouble
    async with chromium() as browser, served(viewing, tongues) as link:
        page = await new_page(browser, size, trouble, language)
        await page.goto(link)
        await expect(page.locator(POINT)).to_be_visible(timeout=30_000)
        yield page
        await page.context.close()
    assert not trouble


async def until(true: Callable[[], object]) -> None:
    with anyio.fail_after(20):
        while not true():
            await anyio.sleep(0.02)


def pinned(viewing: Viewing) -> dict[str, tuple[float, float]]:
    return dict(viewing.pins)


@pytest.mark.long
async def test_by_hand(one: Shown) -> None:
    viewing = begun(one, finds(one))
    camera, start = viewing.camera, viewing_px(viewing)
    async with looked_at(viewing) as page:
        await expect(page.locator("#worst")).to_contain_text("Found by the painted lines.")
        box = await page.locator(f"{POINT} .ring").bounding_box()
        assert box is not None
        x, y = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
        await page.mouse.move(x, y)
        await page.mouse.down()
        await page.mouse.move(x + 30, y, steps=5)
        await expect(page.locator("#yes")).to_be_disabled()  # one point does not hold a court
        await page.mouse.up()
        await expect(page.locator(f"{POINT}.shown")).to_be_visible()
        await expect(page.locator("#worst")).to_contain_text("Show more points")
        wide = await page.evaluate("document.querySelector('#over').clientWidth")
        asked_px = start[0] + 30 * one.video.width_px / wide
        await until(lambda: abs(pinned(viewing)["receiver t"][0] - asked_px) < 1)
        await page.click("#again")
        await expect(page.locator("#yes")).to_be_enabled()
        assert viewing.camera is camera
        await page.click("#yes")
        card = page.locator("article", has_text="Ball 0")
        await expect(card).to_contain_text("from where it was to land")
        await expect(page.locator("article", has_text=f"Ball {LOST}")).to_contain_text("nothing")
        await page.wait_for_function(
            "() => document.querySelector('img.flight').naturalWidth > 400"
        )
        await card.get_by_role("button", name="No").click()
        await expect(card).to_have_class("no current")
        await page.click("#finish")
        await expect(page.locator("#done")).to_be_visible()
    answered = viewing.answered()
    assert answered is not None
    assert answered.landed == ()


def viewing_px(viewing: Viewing) -> tuple[float, float]:
    """Where the court's point is drawn without anybody's help."""
    from feedscript.viewing.told import court_told

    found = {point.name: point.px for point in court_told(viewing).points}
    px = found["receiver t"]
    assert px is not None
    return px


async def test_by_keys_alone(one: Shown) -> None:
    viewing = begun(one, finds(one))
    start = viewing_px(viewing)
    trouble: list[str] = []
    async with looked_at(viewing, trouble=trouble) as page:
        await page.locator(POINT).focus()
        await page.keyboard.press("ArrowRight")
        await page.keyboard.press("ArrowRight")
        await page.keyboard.press("Shift+ArrowDown")
        await expect(page.locator(f"{POINT}.shown")).to_be_focused()
        there = np.add(start, (2, 10))
        await until(lambda: np.allclose(pinned(viewing).get("receiver t", start), there, atol=0.2))
        await page.keyboard.press("Delete")
        await expect(page.locator("#yes")).to_be_enabled()
        await page.locator("#yes").focus()
        await page.keyboard.press("Enter")
        await expect(page.locator("article").first).to_be_visible()
        await page.keyboard.press("ArrowDown")
        await page.keyboard.press("y")
        await expect(page.locator("article").first).to_have_class("yes current")
        await page.keyboard.press("n")
        await expect(page.locator("article").first).to_have_class("no current")
        await page.keyboard.press("n")  # the same again takes it back
        await expect(page.locator("article").first).to_have_class("current")
        assert viewing.said == {0: None}
        await page.route("**/finish", lambda route: route.abort())  # the command was ended
        await page.locator("#finish").focus()
        await page.keyboard.press("Enter")
        await expect(page.locator("#gone")).to_be_visible()
        trouble[:] = [one for one in trouble if "ERR_FAILED" not in one]


@pytest.mark.long
@pytest.mark.parametrize("language", ["en-GB", "de-DE", "fr-FR", "es-ES"])
@pytest.mark.parametrize("size", [SCREEN, PHONE], ids=["screen", "narrow"])
async def test_everybody_can_use_it(one: Shown, size: dict[str, int], language: str) -> None:
    async with looked_at(begun(one, finds(one), parts=2), size, language) as page:
        for stage in ("court", "finds"):
            if stage == "finds":
                await page.click("#yes")
                await page.click("#leave-out")
                await expect(page.locator("article").first).to_be_visible()
            await page.evaluate(AXE.read_text("utf-8"))
            for scheme in ("light", "dark"):
                await page.emulate_media(color_scheme=scheme)
                assert await page.evaluate(VIOLATIONS) == []
            wide = await page.evaluate(TOO_WIDE)
            assert [
                one for one in wide if "bounce.jpg" not in one
            ] == []  # it has a room that moves
            assert await page.evaluate(TOO_SMALL) == []


@pytest.mark.long
async def test_every_word_of_it_comes_from_the_catalogues(one: Shown, tmp_path: Path) -> None:
    viewing = begun(one, finds(one), parts=2)
    tongues = pseudo.with_marks(tmp_path)
    seen: set[str] = set()
    async with looked_at(viewing, SCREEN, pseudo.LANGUAGE, tongues) as page:
        seen |= left_over(await page.evaluate(SEEN), {"qps"})
        await page.click("#yes")
        await page.click("#leave-out")
        await expect(page.locator("article").first).to_be_visible()
        seen |= left_over(await page.evaluate(SEEN), {"qps", "xqdeep", "xqwide"})
    assert seen == set()
