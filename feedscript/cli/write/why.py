"""``feedscript why``: the page of a diagnostic."""

from __future__ import annotations

import re
import textwrap

import click
import msgspec

from feedscript.cli.names import Name
from feedscript.cli.options import format_option
from feedscript.cli.output import Exit, answer, leave, tell
from feedscript.cli.pages import all_pages
from feedscript.diagnostics import Page
from feedscript.formats import headed
from feedscript.nearest import nearest


@click.command("why")
@click.argument("slug", type=Name(all_pages, or_file=False), required=False)
@format_option
def command(slug: str | None, output_format: str) -> None:
    """Print the page of a diagnostic: what it means, a wrong and a corrected example.

    SLUG is the word in parentheses at the end of a diagnostic. Without it, every page is listed.
    """
    pages = all_pages()
    if slug is None:
        _list(pages, output_format)
        return
    page = pages.get(slug.strip("[]").lower())
    if page is None:
        near = nearest(slug, pages)
        hint = f"did you mean `{near}`?" if near else "`feedscript why` lists every page"
        tell(f"no diagnostic has the slug `{slug}`\n  fix: {hint}", error=True)
        leave(Exit.USAGE)
    answer(output_format, headed("why", msgspec.to_builtins(page)), page_text(page))


def page_text(page: Page) -> str:
    """The page as a person reads it."""
    parts = [f"{page.title} ({page.slug}, {page.severity.value})", "", _flowing(page.why)]
    for title, example in (("Wrong", page.wrong), ("Corrected", page.corrected)):
        if example:
            lines = (f"    {line}".rstrip() for line in example.rstrip().split("\n"))
            parts += ["", f"{title}:", "", *lines]
    return "\n".join(parts)


def _flowing(prose: str) -> str:
    """Paragraphs filled again; lists and examples within them stay as they are."""
    blocks = re.split(r"\n\s*\n", prose.strip())
    return "\n\n".join(
        block if re.search(r"^\s*([-*|]|\d+\.|    )", block, re.MULTILINE) else _filled(block)
        for block in blocks
    )


def _filled(block: str) -> str:
    words = " ".join(block.split())
    return textwrap.fill(words, 88, break_long_words=False, break_on_hyphens=False)


def _list(pages: dict[str, Page], output_format: str) -> None:
    width = max(len(slug) for slug in pages)
    rows = [f"{slug:<{width}}  {page.title}" for slug, page in pages.items()]
    plain = headed("why-list", {"pages": msgspec.to_builtins(list(pages.values()))})
    answer(output_format, plain, "\n".join(rows))
