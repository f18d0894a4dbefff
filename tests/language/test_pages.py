"""Every rule of the language has a page, and the page's examples are true."""

from __future__ import annotations

import importlib
import pkgutil

import pytest

import feedscript.court
import feedscript.language
from feedscript.diagnostics import Page, render
from feedscript.language import read
from feedscript.language.resolve.loading import load_beside
from feedscript.shipped import shipped_folder


def language_pages() -> dict[str, Page]:
    found: dict[str, Page] = {}
    for package in (feedscript.court, feedscript.language):
        for module in pkgutil.iter_modules(package.__path__, package.__name__ + "."):
            for value in vars(importlib.import_module(module.name)).values():
                if isinstance(value, Page):
                    found[value.slug] = value
    return found


PAGES = language_pages()


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
def test_the_mended_example_gives_none(slug: str, tmp_path) -> None:
    assert diagnosed(PAGES[slug].mended, tmp_path) == []


@pytest.mark.parametrize("slug", PAGES)
def test_a_page_says_why(slug: str) -> None:
    page = PAGES[slug]
    assert len(page.why.split()) > 15
    assert page.title[0].isupper()
