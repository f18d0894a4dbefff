"""A real browser, Debian's chromium without its windows, at the size of a phone."""

from __future__ import annotations

from collections.abc import AsyncIterator
from contextlib import asynccontextmanager

from playwright.async_api import Browser, Page, async_playwright, expect

#: The same engine as in the whole browser; but a page costs a third of the processor's time.
CHROMIUM = "/usr/bin/chromium-headless-shell"
#: How long to wait for what is to be seen in the end: other tests may have the processor.
PATIENCE_MS = 30_000
expect.set_options(timeout=PATIENCE_MS)
PHONE = {"width": 390, "height": 844}
PHONE_ON_ITS_SIDE = {"width": 844, "height": 390}
SMALL = {"width": 320, "height": 568}
SCREEN = {"width": 1280, "height": 720}
#: What is cut off at a side of the window, and in nothing that scrolls sideways; and what is too
#: small for a thumb.
TOO_WIDE = """() => [...document.querySelectorAll("body *")].filter((one) => {
  const box = one.getBoundingClientRect();
  for (let around = one.parentElement; around; around = around.parentElement)
    if (getComputedStyle(around).overflowX === "auto") return false;
  const shown = box.width && !one.closest("svg") && getComputedStyle(one).opacity !== "0";
  return shown && (box.right > innerWidth + 0.5 || box.left < -0.5);
}).map((one) => one.outerHTML.slice(0, 80))"""
TOO_SMALL = """() => [...document.querySelectorAll("button, select, summary")].filter((one) => {
  const box = one.getBoundingClientRect();
  return box.width && (box.width < 44 || box.height < 43.5);
}).map((one) => one.outerHTML.slice(0, 80))"""
# Nothing but the page under test may go out to a network.
QUIET = [
    "--no-sandbox",
    "--disable-quic",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--no-first-run",
]


@asynccontextmanager
async def chromium() -> AsyncIterator[Browser]:
    async with async_playwright() as playwright:
        browser = await playwright.chromium.launch(executable_path=CHROMIUM, args=QUIET)
        try:
            yield browser
        finally:
            await browser.close()


async def new_page(
    browser: Browser, size: dict[str, int], trouble: list[str], locale: str = "en-GB"
) -> Page:
    """A page of its own (own cookies); what its scripts complain of is added to ``trouble``."""
    context = await browser.new_context(viewport=size, locale=locale)
    page = await context.new_page()
    page.on("pageerror", lambda error: trouble.append(str(error)))
    page.on("console", lambda said: trouble.append(said.text) if said.type == "error" else None)
    return page
