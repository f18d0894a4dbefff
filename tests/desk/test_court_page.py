"""What the desk's page shows of lessons on court and of lessons held, in a real browser."""

from __future__ import annotations

from collections.abc import AsyncIterator
from pathlib import Path

import pytest
from playwright.async_api import Page, expect

from feedscript.journal.store import default_journal_path
from tests.console.accessible import violations
from tests.console.browser import chromium
from tests.desk.desk_process import desk_on
from tests.desk.held_lesson import hold
from tests.desk.test_suggestions import WORDS

pytestmark = pytest.mark.anyio

SIZES = (
    {"width": 1280, "height": 800},
    {"width": 1024, "height": 768},
    {"width": 390, "height": 844},
)
#: A name that would be markup, were it not words.
EVIL = '<img src=x onerror="document.title=1">'
TITLE = "Held (invented)"
PROGRAM = WORDS.replace("Suggested (invented)", TITLE)


@pytest.fixture(scope="module")
def anyio_backend() -> str:
    return "asyncio"


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("coach")


@pytest.fixture(scope="module")
async def desk(anyio_backend: str, folder: Path) -> AsyncIterator[Page]:
    """A desk with a program, of which a lesson was held."""
    (folder / "mine.feed").write_text(PROGRAM, "utf-8")
    source = str((folder / "mine.feed").resolve())
    hold(default_journal_path(), TITLE, "deep", {EVIL: (11, 12)}, source)
    trouble: list[str] = []
    async with chromium() as browser:
        with desk_on(folder) as link:
            page = await browser.new_page(viewport=SIZES[0])  # type: ignore[arg-type]
            page.on("pageerror", lambda error: trouble.append(str(error)))
            await page.goto(link)
            await expect(page.locator("#verdict")).to_contain_text("it passes")
            yield page
    assert trouble == []


async def everybody_can_read_it(page: Page) -> None:
    """Rules: Web Content Accessibility Guidelines 2.1, levels A and AA, as axe-core tests them."""
    for scheme, size in zip(("light", "dark", "dark"), SIZES, strict=True):
        await page.emulate_media(color_scheme=scheme)  # type: ignore[arg-type]
        await page.set_viewport_size(size)  # type: ignore[arg-type]
        assert await page.evaluate("document.documentElement.scrollWidth - innerWidth") <= 0
        assert not await violations(page)
    await page.set_viewport_size(SIZES[0])  # type: ignore[arg-type]


async def test_a_suggestion_is_shown_in_the_words_and_taken_or_left(
    desk: Page, folder: Path
) -> None:
    """By keys alone: what next, a proposal; left once, then taken, then taken back."""
    program = folder / "mine.feed"
    await desk.locator("#to-court").press("Enter")
    await desk.get_by_role("button", name="What next?").first.press("Enter")
    await expect(desk.locator("#held")).to_contain_text(f"deep: perhaps harder for {EVIL} (11 of")
    await everybody_can_read_it(desk)
    await desk.get_by_role("button", name="Faster: 85 km/h").press("Enter")
    await expect(desk.locator("#proposed .cm-deletedChunk")).to_contain_text("80 km/h")
    await expect(desk.locator("#proposed .cm-changedLine")).to_contain_text("85 km/h")
    await everybody_can_read_it(desk)
    await desk.get_by_role("button", name="Leave it").press("Enter")
    assert program.read_text("utf-8") == PROGRAM
    await desk.get_by_role("button", name="Faster: 85 km/h").press("Enter")
    await desk.get_by_role("button", name="Take it").press("Enter")
    await expect(desk.locator("#on-court")).to_be_hidden()
    await expect(desk.locator("#kept")).to_have_text("saved")
    await expect(desk.locator(".cm-content")).to_contain_text("speed 85 km/h")
    assert program.read_text("utf-8") == PROGRAM.replace("80 km/h", "85 km/h")
    await desk.locator(".cm-content").press("Control+z")
    await expect(desk.locator(".cm-content")).to_contain_text("speed 80 km/h")
    assert await desk.title() == "feedscript desk"
    assert await desk.locator("#held img").count() == 0


async def test_a_lesson_is_begun_by_keys_and_its_state_read_by_everybody(desk: Page) -> None:
    await desk.locator("#to-court").press("Enter")
    await expect(desk.locator("#court-go")).to_be_enabled()
    await desk.locator("#court-launchers select").select_option("")
    await everybody_can_read_it(desk)
    await desk.locator("#address-0").fill("nowhere:at-all")
    await desk.locator("#address-0").press("Enter")
    await expect(desk.locator("#court-trouble")).to_contain_text("leads to no launcher")
    await desk.locator("#address-0").fill("serial:/dev/no-such-port")
    await desk.locator("#court-go").press("Enter")
    await expect(desk.locator("#on-court")).to_be_hidden()
    standing = desk.locator("#standing-words")
    await expect(standing).to_contain_text("No lesson began: ", timeout=20_000)
    await everybody_can_read_it(desk)
    await desk.get_by_role("button", name="Close").press("Enter")
    await expect(desk.locator("#standing")).to_be_hidden()
    await expect(desk.locator("#to-court")).to_be_focused()


async def test_a_review_leads_to_its_feed_with_the_change_proposed(
    desk: Page, folder: Path
) -> None:
    """One click in the review, and nothing is changed by it."""
    await expect(desk.locator("#kept")).to_have_text("saved")
    before = (folder / "mine.feed").read_text("utf-8")
    keyed = "import('/static/page_key.js').then((its) => its.keyed('/reviews/1'))"
    await desk.evaluate(f"{keyed}.then((address) => location.assign(address))")
    await desk.get_by_role("link", name="Show it in the program").click()
    await expect(desk.locator("#proposal")).to_be_visible()
    await expect(desk.locator("#proposed .cm-changedLine")).to_contain_text("85 km/h")
    await expect(desk.locator("#feeds button[aria-pressed=true]")).to_contain_text("deep")
    await desk.get_by_role("button", name="Leave it").click()
    await expect(desk.get_by_role("button", name="Less time before it: 4 s")).to_be_visible()
    assert "next" not in desk.url
    assert (folder / "mine.feed").read_text("utf-8") == before
