"""The family's page: one sheet of paper, plain words, one question, and nobody else's child."""

from __future__ import annotations

import io
import random
import re
from html.parser import HTMLParser
from pathlib import Path

import anyio
import pytest
from pypdf import PdfReader

from tests.console.browser import chromium
from tests.review.commands import keep, run
from tests.review.record.seasons import drawn, quick, write_week

OTHERS = ("Birch", "Cedar", "Mary-Jo Elm")
#: Words of the trade and of statistics that a family need not know.
JARGON = (
    "feed", "launcher", "interval", "range", "trend", "series", "record", "streak", "share", "%",
    "significan", "target", "confidence", "lesson plan", "rehears", "journal",
)  # fmt: skip


def write_season(path: Path, results: list[list[str | None]]) -> None:
    """Ash among others, whose names stand in titles and in the names of feeds too."""
    kept = quick(path)
    chance = random.Random(4)
    for week, made in enumerate(results):
        write_week(
            kept,
            week,
            {
                "Birch": drawn(chance, 0.2, 77),
                "Ash": made,
                "Mary-Jo Elm": drawn(chance, 0.9, 6),
            },
            title="Birch and CEDAR",
            feed=("deep_backhand", "mary_jo_elm_special", "wide")[week % 3],
        )
    write_week(kept, 99, {"Cedar": ["in"]})
    kept.close()


def words_of(page: str) -> str:
    """What a reader sees."""
    seen: list[str] = []
    hidden = HTMLParser()
    hidden.handle_data = seen.append  # type: ignore[method-assign]
    hidden.feed(re.sub(r"<style>.*?</style>", "", page, flags=re.S))
    return " ".join(" ".join(seen).split())


def family(path: Path, out: Path) -> str:
    run("--journal", path, "--player", "ash", "--family", "-o", out)
    return out.read_text("utf-8")


STEADY = [["in", "in", "in", "in", "net", "long"] * 4 for _ in range(6)]


@pytest.fixture
def page(tmp_path: Path) -> str:
    write_season(tmp_path / "j.sqlite", STEADY)
    return family(tmp_path / "j.sqlite", tmp_path / "family.html")


def test_it_shows_one_child_only(page: str) -> None:
    assert "Ash" in page
    low = page.lower()
    parts = [part for name in OTHERS for part in re.split(r"\W", name.lower())]
    assert not [part for part in parts if re.search(rf"\b{part}\b", low.replace("_", " "))]
    assert "another player special" in page
    numbers = {int(number) for number in re.findall(r"\d+", words_of(page))}
    # Ash's own are 6 lessons, 48 balls of each kind, 32 of them in, 4 in a row. The others had 77
    # and 6 balls a lesson: 462 and 36 in all, 154 and 12 of each kind, 83 with one another.
    assert {6, 48, 32, 4} <= numbers
    assert not numbers & {77, 462, 154, 36, 12, 83}


def test_it_says_it_in_plain_words(page: str) -> None:
    said = words_of(page).lower()
    assert [word for word in JARGON if word in said] == []


def test_it_asks_one_question(page: str) -> None:
    assert words_of(page).count("?") == 1


@pytest.mark.parametrize(
    ("made", "asked"),
    [
        ([["net"] * 4 + ["in", "long"]] * 4, "into the net"),
        ([["long"] * 4 + ["in", "net"]] * 4, "flies too far"),
        ([["left"] * 4 + ["in", "net"]] * 4, "past on the left"),
        ([["right"] * 4 + ["in", "net"]] * 4, "past on the right"),
        ([["net", "long", "left", "right"] * 3] * 9, "Which ball did you like best"),
        ([["in"] * 12] * 3, "What helps you with it?"),
        ([[None] * 6], "Which ball did you like best"),
        (
            [["in"] * (week + 1) + ["net", "long", "left"] * 4 for week in range(16)],
            "differently now from the first",
        ),
    ],
)
def test_the_question_follows_what_stands_out(
    made: list[list[str | None]], asked: str, tmp_path: Path
) -> None:
    write_season(tmp_path / "j.sqlite", made)
    assert asked in family(tmp_path / "j.sqlite", tmp_path / "family.html")


def test_a_child_for_whom_nothing_was_noted_is_not_judged(tmp_path: Path) -> None:
    write_season(tmp_path / "j.sqlite", [[None] * 6, [None] * 6])
    page = words_of(family(tmp_path / "j.sqlite", tmp_path / "family.html"))
    assert "Ash was there and played 12 balls" in page
    assert "of every 10" not in page


def test_a_forgotten_child_has_no_page(tmp_path: Path) -> None:
    write_season(tmp_path / "j.sqlite", STEADY)
    keep("forget", "ASH", "--journal", tmp_path / "j.sqlite")
    out = tmp_path / "family.html"
    words = ("--journal", tmp_path / "j.sqlite", "--player", "Ash", "--family", "-o", out)
    assert "no-such-player" in run(*words, code=1)
    assert not out.exists()


async def _papers(path: Path) -> tuple[list[PdfReader], int]:
    async with chromium() as browser:
        page = await browser.new_page(viewport={"width": 320, "height": 640})
        await page.goto(path.as_uri())
        wide = await page.evaluate("document.documentElement.scrollWidth")
        made = [
            await page.pdf(prefer_css_page_size=True),
            await page.pdf(format="Letter", margin={"top": "14mm", "bottom": "14mm"}),
        ]
    return [PdfReader(io.BytesIO(one)) for one in made], int(wide)


def test_it_is_one_sheet_of_a4_and_of_letter_and_fits_a_phone(tmp_path: Path) -> None:
    kept = quick(tmp_path / "j.sqlite")
    for week in range(16):  # as full as it gets: more kinds of ball than it names, a long name
        made = ["in"] * (week + 1) + ["net", "long", "left"] * 4
        feed = f"a_deep_and_rather_heavy_ball_to_the_backhand_corner_{chr(97 + week)}"
        write_week(kept, week, {"Ash Wolfeschlegelsteinhausenberger-Dorff": made}, feed=feed)
    kept.close()
    out = tmp_path / "family.html"
    name = "ash wolfeschlegelsteinhausenberger dorff"
    run("--journal", tmp_path / "j.sqlite", "--player", name, "--family", "-o", out)
    papers, wide = anyio.run(_papers, out)
    assert [len(paper.pages) for paper in papers] == [1, 1]
    assert "coach can delete" in " ".join(papers[0].pages[0].extract_text().split())
    assert wide <= 320
