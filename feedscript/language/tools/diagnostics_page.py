"""The page of every diagnostic of the language, made from the pages beside the rules.

``python -m feedscript.language.tools.diagnostics_page`` writes DIAGNOSTICS.md.
"""

from __future__ import annotations

import importlib
import pkgutil
from pathlib import Path

import feedscript.court
import feedscript.language
from feedscript.diagnostics import Page
from feedscript.visible import visible

FILE = Path(__file__).parent.parent / "DIAGNOSTICS.md"


def language_pages() -> dict[str, Page]:
    """Every page of the language and the court, by its slug."""
    found: dict[str, Page] = {}
    for package in (feedscript.court, feedscript.language):
        for module in pkgutil.walk_packages(package.__path__, package.__name__ + "."):
            for value in vars(importlib.import_module(module.name)).values():
                if isinstance(value, Page):
                    found[value.slug] = value
    return dict(sorted(found.items()))


def as_markdown() -> str:
    """The whole page."""
    pages = language_pages()
    parts = [
        "# What the language may say",
        "Generated from the pages beside the rules by "
        "`python -m feedscript.language.tools.diagnostics_page`; do not edit. "
        "`feedscript why SLUG` prints a page, also of the rules of safety, launcher and link.",
        "\n".join(f"- [`{page.slug}`](#{page.slug}): {page.title}" for page in pages.values()),
    ]
    for page in pages.values():
        parts += [f"## {page.slug}", f"**{page.title}** ({page.severity.value})", page.why.strip()]
        parts += ["Wrong:", _block(page.wrong), "Corrected:", _block(page.corrected)]
    return "\n\n".join(parts) + "\n"


def _block(text: str) -> str:
    return f"```\n{visible(text.rstrip())}\n```"


if __name__ == "__main__":
    FILE.write_text(as_markdown(), encoding="utf-8")
