"""The site builds without a warning, needs no network, and every link of it leads somewhere.

It is held to what it is made of: each page of the repository reads as any other Markdown reader
takes it, and every command, option and message has its place.
"""

from __future__ import annotations

import asyncio
import json
import logging
import re
import shlex
import tomllib
from collections import Counter
from html.parser import HTMLParser
from pathlib import Path
from urllib.parse import unquote

import pytest
import yaml
from markdown_it import MarkdownIt
from mkdocs.commands.build import build
from mkdocs.config import load_config
from mkdocs.exceptions import Abort

from feedscript.cli import COMMANDS
from feedscript.safety.rules import RULES
from tests.conftest import ROOT
from tests.console.accessible import violations
from tests.console.browser import chromium
from tests.test_pages import parsed

COUNTED = ("h1", "h2", "h3", "h4", "li", "pre", "table", "tr")


class Read(HTMLParser):
    """What a page of the site links to and can be linked by, and what its text is made of."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.links: list[str] = []
        self.anchors: set[str] = set()
        self.parts: Counter[str] = Counter()
        self.within = False
        self.feed(text)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        given = {name: value or "" for name, value in attrs}
        self.links += [given[name] for name in ("href", "src") if name in given]
        self.anchors |= {given[name] for name in ("id", "name") if name in given}
        self.within = self.within or tag == "article"
        if self.within and tag in COUNTED:
            self.parts[tag] += 1

    def handle_endtag(self, tag: str) -> None:
        self.within = self.within and tag != "article"


class Heard(logging.Handler):
    def __init__(self) -> None:
        super().__init__(logging.WARNING)
        self.words: list[str] = []

    def emit(self, record: logging.LogRecord) -> None:
        self.words.append(record.getMessage())


@pytest.fixture(scope="module")
def site(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("guide")
    heard = Heard()
    logging.getLogger("mkdocs").addHandler(heard)
    try:
        build(load_config(str(ROOT / "mkdocs.yml"), site_dir=str(folder)))
    except Abort:
        pytest.fail("\n".join(heard.words))
    finally:
        logging.getLogger("mkdocs").removeHandler(heard)
    assert heard.words == []
    return folder


@pytest.fixture(scope="module")
def read(site: Path) -> dict[Path, Read]:
    return {path: Read(path.read_text("utf-8")) for path in site.rglob("*.html")}


def test_every_link_leads_to_a_place_and_to_every_page_leads_a_link(
    read: dict[Path, Read], site: Path
) -> None:
    dead, followed, reached = [], 0, {"404.html", "index.html"}
    for page, what in read.items():
        if page.name == "404.html":  # shown at any address: its links begin at the site's top
            continue
        for link in what.links:
            file, _, anchor = unquote(link).partition("#")
            target = (page.parent / file.partition("?")[0]).resolve() if file else page
            followed += 1
            if target != page and target.is_relative_to(site):
                reached.add(target.relative_to(site).as_posix())
            if not target.is_file() or (anchor and anchor not in read[target].anchors):
                dead.append(f"{page}: {link}")
    assert dead == []
    every = {page.relative_to(site).as_posix() for page in read}
    assert every - reached == set(), "no page leads there: link to it, or name it in mkdocs.yml"
    assert followed > 1000


def test_nothing_is_fetched_from_elsewhere(site: Path, read: dict[Path, Read]) -> None:
    asked = [link for what in read.values() for link in what.links if "//" in link]
    assert asked == []
    for style in site.rglob("*.css"):
        assert not re.search(r"url\(['\"]?(https?:)?//", style.read_text("utf-8")), style


def written_pages() -> list[Path]:
    """Pages that the site shows as they stand."""
    others = {ROOT / "README.md", ROOT / "feedscript" / "language" / "DIAGNOSTICS.md"}
    found = set(ROOT.glob("*.md"))
    for top in ("drivers", "feedscript", "programs", "shared"):
        found |= set((ROOT / top).rglob("*.md"))
    return sorted(one for one in found - others if "build" not in one.parts)


def test_pages_of_the_repository_read_as_they_do_elsewhere(
    read: dict[Path, Read], site: Path
) -> None:
    """Two readers of Markdown that share no code find the same headings, lists, tables, blocks."""
    compared = 0
    other = MarkdownIt("commonmark").enable("table")
    for path in written_pages():
        name = path.relative_to(ROOT).as_posix().removeprefix("shared/guide/")
        shown = site / re.sub(r"\.md$", ".html", name.replace("README.md", "index.html"))
        told = path.read_text("utf-8")
        if "!!! " in told:  # a box, which the other reader has not
            continue
        assert read[shown].parts == Read(f"<article>{other.render(told)}</article>").parts, name
        compared += 1
    assert compared > 40


def test_every_command_and_option_has_its_place(read: dict[Path, Read], site: Path) -> None:
    page = (site / "reference" / "commands.html").read_text("utf-8")
    assert {f"feedscript-{name}" for name in COMMANDS} <= read[
        site / "reference/commands.html"
    ].anchors
    table = (ROOT / "tests" / "cli" / "test_options.py").read_text("utf-8")
    options = set(re.findall(r'"(--[a-z][a-z-]+)"', table))
    assert len(options) > 50
    assert {one for one in options if f"{one}" not in page} - {"--help"} == set()


def test_every_message_has_its_place(read: dict[Path, Read], site: Path) -> None:
    """Its slugs as they stand in the sources, not as the page's maker found them."""
    written = {
        slug
        for top in ("feedscript", "drivers/feedscript_drivers", "simulator")
        for path in (ROOT / top).rglob("*.py")
        for slug in re.findall(r'\bPage\(\s*(?:slug=)?"([a-z-]+)"', path.read_text("utf-8"))
    }
    assert len(written) > 200
    assert written - read[site / "reference" / "diagnostics.html"].anchors == set()
    rules = (site / "reference" / "rules.html").read_text("utf-8")
    assert [one.slug for one in RULES if f">{one.slug}</a>" not in rules] == []


def test_what_python_can_use_has_its_place(read: dict[Path, Read], site: Path) -> None:
    told = (ROOT / "feedscript" / "api" / "__init__.py").read_text("utf-8")
    listed = re.findall(r'^    "(\w+)",$', told, re.M)
    assert {name.lower() for name in listed} <= read[site / "reference/python.html"].anchors


def blocks(language: str) -> list[str]:
    """What the site's own pages have in this language."""
    pages = sorted((ROOT / "shared" / "guide").rglob("*.md"))
    fence = rf"^```{language}\n(.*?)^```$"
    return [b for one in pages for b in re.findall(fence, one.read_text("utf-8"), re.M | re.S)]


def test_the_job_for_a_ci_runs_commands_that_there_are() -> None:
    (job,) = (yaml.safe_load(block) for block in blocks("yaml"))
    lines = [step["run"] for step in job["jobs"]["lessons"]["steps"] if "run" in step]
    assert len(lines) == 4
    for line in lines[1:]:
        parsed(shlex.split(line)[1:])


def test_an_editors_lines_start_the_server() -> None:
    read = [tomllib.loads(block) for block in blocks("toml")]
    (helix,) = (one for one in read if "language-server" in one)
    server = helix["language-server"]["feedscript"]
    assert server == {"command": "feedscript", "args": ["language-server"]}
    assert "language-server" in COMMANDS


def test_search_finds_a_word_in_a_site_that_was_opened_as_a_file(site: Path) -> None:
    index = json.loads((site / "search" / "search_index.json").read_text("utf-8"))
    assert len(index["docs"]) > 500
    assert asyncio.run(_found(site, "watchdog")) > 5


async def _found(site: Path, word: str) -> int:
    """How many pages the search names, typed as a reader types; nothing may ask a network, and
    other pages can be read by everybody."""
    async with chromium() as browser:
        page = await browser.new_page()
        asked: list[str] = []
        page.on("request", lambda request: asked.append(request.url))
        await page.goto((site / "index.html").as_uri())
        await page.locator("[data-md-component=search-query]").press_sequentially(word)
        await page.locator(".md-search-result__item").first.wait_for()
        told = await page.locator(".md-search-result__meta").inner_text()
        assert [url for url in asked if not url.startswith("file:")] == []
        for name in ("coach/first-lesson.html", "reference/rules.html"):
            await page.goto((site / name).as_uri())
            assert await violations(page) == {}, name
        return int(told.split()[0])
