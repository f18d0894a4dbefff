"""Every message there is, with its cause and how to mend it: what `feedscript why` prints."""

from __future__ import annotations

from feedscript.cli.pages import all_pages
from feedscript.diagnostics import Page
from feedscript.visible import visible

_ABOUT = """# Messages

Every message ends with a word in parentheses, and this page has each of those words: what it means
and why it is said. Where a program shows it, a wrong and a corrected one stand below.
`feedscript why SLUG` prints the same."""


def messages_page() -> str:
    """The page as Markdown, in the order of the alphabet."""
    pages = all_pages().values()
    return "\n\n".join([_ABOUT, *(part for page in pages for part in _parts(page))]) + "\n"


def _parts(page: Page) -> list[str]:
    parts = [f"## {page.slug}", f"**{page.title}** ({page.severity.value})", page.why.strip()]
    for title, program in (("Wrong:", page.wrong), ("Corrected:", page.corrected)):
        if program:
            parts += [title, f"```feedscript\n{visible(program.rstrip())}\n```"]
    return parts
