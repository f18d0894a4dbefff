"""Every rule of the language has a page, and the page's examples are true."""

from __future__ import annotations

import pytest

from feedscript.diagnostics import render
from feedscript.language import read
from feedscript.language.resolve.loading import load_beside
from feedscript.language.tools.diagnostics_page import language_pages
from feedscript.shipped import shipped_folder

PAGES = language_pages()


def test_every_room_of_the_language_is_looked_at() -> None:
    """A page of each: of places, of writing, of names and values, of hidden characters."""
    assert {"place-direction", "missing-word", "no-gap", "hidden-character"} <= PAGES.keys()


def diagnosed(text: str, folder) -> list:
    program = folder / "one-feed.feed"
    program.write_text(text, encoding="utf-8")
    return list(read(text, str(program), load=load_beside(program, shipped_folder()))[1])


@pytest.mark.parametrize("slug", PAGES)
def test_the_wrong_example_gives_this_one_diagnostic(slug: str, tmp_path) -> None:
    page = PAGES[slug]
    found = diagnosed(page.wrong, tmp_path)
    assert [d.slug for d in found] == [slug]
    assert found[0].severity is page.severity
    assert found[0].help
    assert "»" in render(found[0], {str(found[0].span.source): page.wrong})


@pytest.mark.parametrize("slug", PAGES)
def test_the_corrected_example_gives_none(slug: str, tmp_path) -> None:
    assert diagnosed(PAGES[slug].corrected, tmp_path) == []


@pytest.mark.parametrize("slug", PAGES)
def test_a_page_says_why(slug: str) -> None:
    page = PAGES[slug]
    assert len(page.why.split()) > 15
    assert page.title[0].isupper()
