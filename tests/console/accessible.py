"""What axe-core finds on a page against the Web Content Accessibility Guidelines 2.1, A and AA."""

from __future__ import annotations

from functools import cache
from pathlib import Path

import axe_playwright_python
from playwright.async_api import Page

#: What stands in order is not asked for: to tell it takes longer than to find what does not.
_ASKED = """part => axe.run(part || document, {
  runOnly: ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa"], resultTypes: ["violations"],
})"""


@cache
def _axe() -> str:
    return Path(axe_playwright_python.__file__).with_name("axe.min.js").read_text("utf-8")


async def violations(page: Page, part: str | None = None) -> dict[str, list[str]]:
    """The rules that are broken, with the elements; of the part that a selector names, or all."""
    if not await page.evaluate("'axe' in window"):
        await page.evaluate(_axe())
    found = await page.evaluate(_ASKED, part)
    return {one["id"]: [node["html"][:200] for node in one["nodes"]] for one in found["violations"]}
