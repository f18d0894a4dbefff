"""The README's two pictures of the desk, taken anew: a screen, and a phone by the court.

``python -m tests.desk.pictures`` writes ``shared/pictures``. What is shown is a shipped program,
its group invented. Each picture says what it was taken of; a test says when that has changed.
"""

from __future__ import annotations

import asyncio
import hashlib
import io
import re
import shutil
import tempfile
from pathlib import Path
from typing import NamedTuple

from PIL import Image, PngImagePlugin
from playwright.async_api import Browser, Page, ViewportSize, expect

from feedscript.shipped import program_path
from tests.conftest import ROOT
from tests.console.browser import chromium
from tests.desk.desk_process import desk_on

FOLDER = ROOT / "shared" / "pictures"
PROGRAM = "thursday-juniors"
FEED = "deep_backhand"
PAGE = ROOT / "feedscript" / "desk" / "static" / "desk.html"
PATIENCE_MS = 60_000
TAKEN_OF = "taken-of"


class Picture(NamedTuple):
    """A picture: its window in CSS pixels, and pixels of the file for each."""

    name: str
    width: int
    height: int
    scale: int
    tab: str = ""

    @property
    def path(self) -> Path:
        return FOLDER / f"{self.name}.png"


PICTURES = (Picture("desk", 1280, 800, 1), Picture("desk-phone", 390, 844, 1, tab="court"))


def taken_of() -> str:
    """What the pictures show, told apart: the program's words and what the page calls its parts."""
    parts = re.findall(r"\{\{(.*?)\}\}", PAGE.read_text("utf-8").partition("<dialog")[0])
    assert parts
    words = program_path(PROGRAM).read_text("utf-8")
    return hashlib.sha256("\n".join([words, *parts]).encode()).hexdigest()


async def _take(page: Page, picture: Picture) -> bytes:
    await expect(page.locator("#verdict")).to_contain_text("it passes", timeout=PATIENCE_MS)
    if picture.tab:
        await page.locator(f"#tab-{picture.tab}").click()
    await page.locator("#feeds button", has_text=FEED).first.click()
    await expect(page.locator("#sliders .band .allowed").first).to_be_attached(timeout=PATIENCE_MS)
    await expect(page.locator("#hour .lane").first).to_be_attached(timeout=PATIENCE_MS)
    await page.evaluate("document.activeElement.blur()")
    await page.evaluate("document.getElementById('court').scrollTo(0, 0)")
    await page.mouse.move(0, 0)
    return await page.screenshot(animations="disabled")


async def _taken(browser: Browser, link: str, picture: Picture) -> bytes:
    size = ViewportSize(width=picture.width, height=picture.height)
    context = await browser.new_context(
        viewport=size, device_scale_factor=picture.scale, locale="en-GB", reduced_motion="reduce"
    )
    page = await context.new_page()
    await page.goto(link)
    return await _take(page, picture)


async def take_all() -> dict[Picture, bytes]:
    """Every picture, as PNG."""
    found = {}
    with tempfile.TemporaryDirectory() as folder:
        shutil.copy(program_path(PROGRAM), Path(folder) / "thursday juniors.feed")
        async with chromium() as browser:
            for picture in PICTURES:
                with desk_on(Path(folder)) as link:
                    found[picture] = await _taken(browser, link, picture)
    return found


def written(png: bytes, of: str) -> bytes:
    """The picture with what it was taken of, and no bigger than it needs to be."""
    about = PngImagePlugin.PngInfo()
    about.add_text(TAKEN_OF, of)
    file = io.BytesIO()
    few = Image.open(io.BytesIO(png)).convert("RGB").quantize(256, dither=Image.Dither.NONE)
    few.save(file, "PNG", pnginfo=about, optimize=True)
    return file.getvalue()


if __name__ == "__main__":
    FOLDER.mkdir(exist_ok=True)
    for picture, png in asyncio.run(take_all()).items():
        picture.path.write_bytes(written(png, taken_of()))
