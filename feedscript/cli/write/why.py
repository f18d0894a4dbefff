"""``feedscript why``: the page of a diagnostic."""

from __future__ import annotations

import re
import textwrap

import click
import msgspec

from feedscript.cli.names import Name
from feedscript.cli.options import format_option
from feedscript.cli.output import Exit, answer, leave, print_json, tell
from feedscript.cli.pages import all_pages, page_of, titles
from feedscript.diagnostics import Page
from feedscript.formats import headed
from feedscript.nearest import nearest


@click.command("why")
@click.argument("slug", type=Name(titles, or_file=False), required=False)
@format_option
def command(slug: str | None, output_format: str) -> None:
    """Print the page of a diagnostic: what it means, a wrong and a corrected example.

    SLUG is the word in parentheses at the end of a diagnostic. Without it, every page is listed.
    """
    if slug is None:
        _list(output_format)
        return
    page = page_of(slug.strip("[]").lower())
    if page is None:
        tell(_no_page(slug), error=True)
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


def _no_page(slug: str) -> str:
    known = titles()
    title = known.get(slug.strip("[]").lower())
    if title is not None:
        return (
            f"the page of `{slug}` ({title}) cannot be shown: it stands in a part whose extra is "
            "not installed\n  fix: install that extra; the README lists them"
        )
    near = nearest(slug, known)
    hint = f"did you mean `{near}`?" if near else "`feedscript why` lists every page"
    return f"no diagnostic has the slug `{slug}`\n  fix: {hint}"


def _list(output_format: str) -> None:
    if output_format == "json":
        print_json(headed("why-list", {"pages": msgspec.to_builtins(list(all_pages().values()))}))
        return
    known = titles()
    width = max(len(slug) for slug in known)
    tell("\n".join(f"{slug:<{width}}  {title}" for slug, title in known.items()))
