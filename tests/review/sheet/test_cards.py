"""An exercise a card: four on a page, of one size, and nothing of any of them is lost."""

from __future__ import annotations

from pathlib import Path

import anyio
import pytest
from pypdf import PdfReader

from tests.console.browser import chromium
from tests.review.sheet.lessons import PAPERS, draw, lesson_of, printed

MM = 96 / 25.4  # pixels of a browser
#: ISO 216: A4 cut in four. A quarter of a US letter page, which is 8 1/2 by 11 inches.
SIZES_MM = {"A4": (210, 297, 105, 148), "Letter": (215.9, 279.4, 107.95, 139.7)}


@pytest.fixture(scope="module")
def cards(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("cards")
    program = folder / "six.feed"
    program.write_text(lesson_of(6), "utf-8")
    draw(program, folder / "cards.html", "--cards")
    return folder / "cards.html"


@pytest.fixture(scope="module")
def papers(cards: Path) -> dict[tuple[str, str], PdfReader]:
    return anyio.run(printed, [cards])


@pytest.mark.parametrize("size", PAPERS)
def test_four_stand_on_a_page_and_each_is_whole(papers, size: str) -> None:
    pages = [" ".join(page.extract_text().split()) for page in papers["cards", size].pages]
    assert len(pages) == 2
    for number in range(1, 7):
        page = pages[(number - 1) // 4]
        for words in (
            f"Number {number} of the hour, forehand and backhand",
            f"Aim: past the service line {number}, and back to the middle after it",
            "Target: deep cross (four cones)",
            "Goal: 3 of 4 in target",
            f"Watch: shoulders {number} turned before the bounce, small steps after",
            f"Easier: from the service line with a soft ball, number {number}",
            f"Harder: only the last metre counts, number {number}",
        ):
            assert words in page, words
    assert pages[0].count("8 min · 24 balls") == 4
    assert pages[0].count("Load: at least 24") == 4
    assert pages[0].count("Bring: four cones") == 4
    assert pages[0].count("For: club, county · 2 to 6 players · depth") == 4


_BOXES = """() => [...document.querySelectorAll(".page")].map((page) => {
  const box = (one) => {
    const { x, y, width, height } = one.getBoundingClientRect();
    const at = page.getBoundingClientRect();
    return [x - at.x, y - at.y, width, height];
  };
  const inside = [...page.querySelectorAll(".card")].every((card) =>
    [...card.querySelectorAll("*")].every((one) => {
      const [a, b] = [one.getBoundingClientRect(), card.getBoundingClientRect()];
      return a.right <= b.right + 0.5 && a.bottom <= b.bottom + 0.5;
    }));
  return { cards: [...page.querySelectorAll(".card")].map(box),
    marks: [...page.querySelectorAll(".crop")].map(box), inside };
})"""


async def boxes(path: Path, *sizes: str) -> dict[str, list[dict]]:
    """Where cards and marks are on each page, in print on these papers."""
    found = {}
    async with chromium() as browser:
        page = await browser.new_page()
        await page.emulate_media(media="print")
        await page.goto(path.as_uri())
        for size in sizes:
            wide, high, _, _ = SIZES_MM[size]
            await page.set_viewport_size({"width": round(wide * MM), "height": round(high * MM)})
            found[size] = await page.evaluate(_BOXES)
    return found


@pytest.fixture(scope="module")
def cut(cards: Path) -> dict[str, list[dict]]:
    return anyio.run(boxes, cards, *PAPERS)


@pytest.mark.parametrize("size", PAPERS)
def test_all_are_of_one_size_and_the_marks_show_where_to_cut(cut, size: str) -> None:
    _, _, wide, high = SIZES_MM[size]
    for page in cut[size]:
        assert page["inside"]
        for number, box in enumerate(page["cards"]):
            want = (number % 2 * wide, number // 2 * high, wide, high)
            assert [side / MM for side in box] == pytest.approx(want, abs=0.6)
        for x, y, across, down in page["marks"]:
            # Each lies on the line between two cards: across it or along it.
            on_line = (x / MM, wide) if down > across else (y / MM, high)
            assert on_line[0] == pytest.approx(on_line[1], abs=0.6)
        assert len(page["marks"]) == 6


def test_a_card_with_too_many_words_grows_and_loses_none(tmp_path: Path) -> None:
    program = tmp_path / "long.feed"
    many = " ".join(f"word{number}" for number in range(120))
    program.write_text(lesson_of(1).replace("only the last metre counts", many), "utf-8")
    draw(program, tmp_path / "long.html", "--cards")
    (page,) = anyio.run(boxes, tmp_path / "long.html", "A4")["A4"]
    assert page["inside"]
    assert page["cards"][0][3] / MM > 149


def test_a_lesson_without_exercises_is_one_card(tmp_path: Path) -> None:
    page = draw("side-by-side", tmp_path / "one.html", "--cards")
    assert page.count('<section class="card">') == 1
    assert "drives 19, volleys 19" in page
