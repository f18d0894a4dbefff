"""The page as a browser prints it, which is how a report becomes paper or a PDF."""

from __future__ import annotations

import io
import json
from pathlib import Path

import anyio
import pytest
from pypdf import PdfReader

from tests.console.browser import chromium
from tests.review.calendar import PLAYERS
from tests.review.commands import run


async def printed(*pages: Path) -> list[PdfReader]:
    """Each page as the browser's "save as PDF" makes it, by the page's own style sheet."""
    found = []
    async with chromium() as browser:
        page = await browser.new_page()
        for path in pages:
            await page.goto(path.as_uri())
            found.append(PdfReader(io.BytesIO(await page.pdf(prefer_css_page_size=True))))
    return found


@pytest.fixture(scope="module")
def papers(written: Path, tmp_path_factory: pytest.TempPathFactory) -> list[PdfReader]:
    """The coach's report, and the sheet of one player."""
    folder = tmp_path_factory.mktemp("printed")
    report, sheet = folder / "report.html", folder / "sheet.html"
    run("--journal", written, "-o", report)
    run("--journal", written, "--player", "Cedar", "-o", sheet)
    return anyio.run(printed, report, sheet)


def test_the_paper_has_a_page_a_player_and_says_what_the_figures_say(
    papers: list[PdfReader], written: Path
) -> None:
    pages = [" ".join(page.extract_text().split()) for page in papers[0].pages]
    told = json.loads(run("--journal", written, "--format", "json"))
    begins = [next(n for n, page in enumerate(pages) if page.startswith(who)) for who in PLAYERS]
    assert begins == list(range(begins[0], begins[0] + len(PLAYERS)))
    for number, one in zip(begins, told["players"], strict=True):
        assert f"{one['in']} of {one['recorded']} recorded balls in court" in pages[number]
    assert "19 of 20" in "".join(pages[: begins[0]])
    rest = "".join(pages[begins[-1] + 1 :])
    for feed, numbers in told["feeds"].items():
        assert feed.replace("_", " ") in rest
        assert f"{numbers['in']} of {numbers['recorded']} recorded balls" in rest


def test_the_paper_is_a4(papers: list[PdfReader]) -> None:
    for paper in papers:
        for page in paper.pages:
            sides_mm = [float(side) * 25.4 / 72 for side in page.mediabox[2:]]
            assert sides_mm == pytest.approx([210.0, 297.0], abs=0.5)


def test_a_sheet_is_one_page_of_paper_and_shows_nobody_else(papers: list[PdfReader]) -> None:
    (page,) = papers[1].pages
    words = " ".join(page.extract_text().split())
    assert "Cedar" in words
    assert not [other for other in PLAYERS if other != "Cedar" and other in words]
    assert "coach can delete" in words


async def cut_off(path: Path) -> list[str]:
    """What does not fit a phone of 320 pixels: the page, and each table that must be scrolled."""
    async with chromium() as browser:
        page = await browser.new_page(viewport={"width": 320, "height": 640})
        await page.goto(path.as_uri())
        found = await page.evaluate(
            """() => [document.documentElement, ...document.querySelectorAll("[aria-label=table]")]
                .filter((one) => one.scrollWidth > one.clientWidth)
                .map((one) => one.innerText.slice(0, 40))"""
        )
    return [str(one) for one in found]


def test_on_a_phone_no_figure_of_a_table_is_cut_off(written: Path, tmp_path: Path) -> None:
    out = tmp_path / "report.html"
    run("--journal", written, "-o", out)
    assert "Waited an hour" in out.read_text("utf-8")
    assert anyio.run(cut_off, out) == []
