"""What a coach does on a lesson's own page, in the order in which the page asks for it."""

from __future__ import annotations

from collections.abc import Callable

from playwright.async_api import Page

#: A person reads what is asked before tapping; the page takes nothing sooner.
READ_MS = 450


async def set_up_and_go(page: Page, click: Callable[[str], object] | None = None) -> None:
    """From a fresh page to balls that leave; the stand-in's person arms meanwhile. ``click`` is
    told of every tap."""
    told = click or (lambda _what: None)

    async def tap(what: str) -> None:
        await page.click(what)
        told(what)

    await tap("#take")
    await page.wait_for_selector("#steps button")
    while left := await page.locator('#steps button[aria-pressed="false"]').count():
        await tap('#steps button[aria-pressed="false"] >> nth=0')
        await page.wait_for_function(
            "n => document.querySelectorAll('#steps button[aria-pressed=\"false\"]').length < n",
            arg=left,
        )
    for act in ("clear", "seen", "go-on"):
        await page.wait_for_selector(f'[data-control="{act}"]:enabled')
        await page.wait_for_timeout(READ_MS)
        await tap(f'[data-control="{act}"]')
    await page.wait_for_selector('[data-control="hold"]:enabled')
