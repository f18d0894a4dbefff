"""Programs made to break the desk, and the shipped ones, opened in it.

No script of theirs runs, page and server go on answering, and what is drawn is bounded.
"""

from __future__ import annotations

from pathlib import Path

import pytest
from playwright.async_api import Page, expect

from feedscript.language.resolve.loading import MOST_BYTES
from feedscript.shipped import shipped_programs
from tests.console.browser import chromium
from tests.desk.desk_process import desk_on

pytestmark = pytest.mark.anyio

PATIENCE_MS = 60_000
#: Elements of the whole page; a long text in full would have many times as many.
MOST_ELEMENTS = 20_000
EVIL = "<img src=x onerror='window.evil=1'><script>window.evil=1</script>\u202e\u2028"
TEXTS = {
    "brackets": "(" * 20_000,
    "open end": "feedscript 1\nlet a = " + "(" * 5_000 + "1 s",
    "nested": "feedscript 1\nlesson { " + "repeat 2 { " * 3_000,
    "long sum": "feedscript 1\nlet a = 1 s" + " + 1 s" * 5_000,
    "lines": "\n" * 50_000 + "x",
    "one word": "x" * (MOST_BYTES - 1),
    "evil": f'feedscript 1\ntitle "{EVIL}"\n# {EVIL}\nlesson {{ say "{EVIL}" }}\n',
}
REFUSED = {"huge": b"#" * (MOST_BYTES + 1), "no text": b"\xff\xfe\x00abc"}
SHIPPED = [f"shipped/{name}" for name in shipped_programs() if "/" not in name]
#: What a page can draw and still answer at once.
MOST_DRAWN = 5_000
MANY = 900


def many_feeds() -> str:
    """Hundreds of feeds: each with a way, a landing and a line in the list."""
    feeds = (
        f"feed f{one} {{ land {2 + one % 60 / 20:g} m inside baseline, {1 + one % 37 / 10:g} m "
        f"inside ad sideline  speed {70 + one % 20} km/h  spin top 900 rpm }}"
        for one in range(MANY)
    )
    return "\n".join(
        [
            'feedscript 1\ntitle "Many"\ncourt { surface hard }\nballs { type 2  load 60 }',
            'launcher { profile "garage.toml"  stands 1 m behind centre mark }',
            "group { 4 players  level club }",
            *feeds,
            "lesson {\nshow speed of f0",
            "for each player { send f0 after 5 s  rest 10 s }\n}\n",
        ]
    )


@pytest.fixture
def anyio_backend() -> str:
    return "asyncio"


def hostile_folder(folder: Path) -> Path:
    for name, text in TEXTS.items():
        (folder / f"{name}.feed").write_text(text, "utf-8")
    for name, raw in REFUSED.items():
        (folder / f"{name}.feed").write_bytes(raw)
    return folder


async def still_fine(page: Page, name: str) -> None:
    assert await page.evaluate("window.evil") is None, name
    assert await page.locator("img[src=x]").count() == 0, name
    assert await page.locator("*").count() < MOST_ELEMENTS, name


@pytest.mark.timeout(300)
async def test_nothing_breaks_the_desk(tmp_path: Path) -> None:
    trouble: list[str] = []
    async with chromium() as browser:
        with desk_on(hostile_folder(tmp_path)) as link:
            page = await browser.new_page()
            page.on("pageerror", lambda error: trouble.append(str(error)))
            await page.goto(link)
            await expect(page.locator("#verdict")).not_to_be_empty()  # paired: it loads itself anew
            for name in (*TEXTS, *REFUSED, *SHIPPED[:2]):
                await page.goto("about:blank")
                await page.goto(f"{link.split('#')[0]}#{name}")
                told = "#kept" if name in REFUSED else "#verdict"
                words = "cannot be opened" if name in REFUSED else "it passes"
                words = "to mend before it may run" if name in TEXTS else words
                await expect(page.locator(told)).to_contain_text(words, timeout=PATIENCE_MS)
                if name in TEXTS:
                    await expect(page.locator(".finding").first).to_be_visible()
                await still_fine(page, name)
    assert trouble == []


@pytest.mark.timeout(300)
async def test_hundreds_of_feeds_are_thinned_out_and_the_page_says_so(tmp_path: Path) -> None:
    (tmp_path / "many.feed").write_text(many_feeds(), "utf-8")
    async with chromium() as browser:
        with desk_on(tmp_path) as link:
            page = await browser.new_page()
            await page.goto(link)
            await expect(page.locator("#verdict")).to_contain_text("it pass", timeout=PATIENCE_MS)
            await expect(page.locator("#thinned")).to_contain_text(f"of {MANY}")
            assert await page.locator("*").count() < MOST_DRAWN
            await page.locator("#feeds button").first.click()
            await expect(page.locator("#feeds button[aria-pressed=true]")).to_have_count(1)


#: Thousands of turns, areas and steps by the hundred, from few words each.
AREAS, STEPS = 300, 400
CROWD = "\n".join(
    [
        'feedscript 1\ntitle "Crowd"\ncourt { surface hard }\nballs { type 2  load 60 }',
        'launcher { profile "garage.toml"  stands 1 m behind centre mark }',
        "group { 60 players  level club }",
        "feed deep { land 3 m inside baseline, on centre line  speed 70 km/h }",
        *(f'keep out "area {one}" {{ area ad run-off  height 1 m }}' for one in range(AREAS)),
        "lesson {\nshow speed of deep",
        "repeat 40 { for each player { send deep after 5 s }  collect }",
        *("rest 4 s" for _ in range(STEPS)),
        "}\n",
    ]
)


@pytest.mark.timeout(300)
async def test_of_a_crowd_the_longest_turns_are_drawn_and_the_page_says_so(tmp_path: Path) -> None:
    (tmp_path / "crowd.feed").write_text(CROWD, "utf-8")
    async with chromium() as browser:
        with desk_on(tmp_path) as link:
            page = await browser.new_page()
            await page.goto(link)
            told = page.locator(".line-box .thinned")
            await expect(told).to_have_count(2, timeout=PATIENCE_MS)
            await expect(told.first).to_contain_text(f"of {STEPS + 2} steps")
            await expect(told.last).to_contain_text("of 2,4")  # and the collects
            await expect(page.locator("#thinned")).to_contain_text(f"120 of {AREAS} areas")
            assert await page.locator("*").count() < MOST_DRAWN
            await page.locator("[data-step][tabindex='0']").focus()
            await page.keyboard.press("ArrowRight")
            await expect(page.locator("[data-step]:focus")).to_have_count(1)


@pytest.mark.long
@pytest.mark.timeout(600)
async def test_every_shipped_program_opens(tmp_path: Path) -> None:
    trouble: list[str] = []
    async with chromium() as browser:
        with desk_on(tmp_path) as link:
            page = await browser.new_page()
            page.on("pageerror", lambda error: trouble.append(str(error)))
            await page.goto(link)
            await expect(page.locator("#first[open]")).to_be_visible()
            await page.keyboard.press("Escape")  # nobody's folder: the desk asks for a first lesson
            for name in SHIPPED:
                await page.locator("#choose").click()
                called = page.get_by_text(name.removeprefix("shipped/"), exact=True)
                await page.locator("#shipped-list button").filter(has=called).click()
                await expect(page.locator("#title")).to_have_text(name.removeprefix("shipped/"))
                await expect(page.locator("#verdict.ok")).to_contain_text(
                    "it passes", timeout=PATIENCE_MS
                )
                await expect(page.locator("#feeds button").first).to_be_visible()
                await still_fine(page, name)
    assert trouble == []
