"""The page for the fence: all of it is there, it fits the paper, and it can be read."""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET
from collections import defaultdict
from pathlib import Path

import anyio
import pytest
from click.testing import CliRunner
from pypdf import PdfReader

from feedscript.check.check_program import check_program
from feedscript.cli.prove.draw import command
from feedscript.plan.interpreter.actions import Ask, StartStations, TakeTurn
from feedscript.plan.interpreter.runs import run_through
from feedscript.plan.model import Exercise
from feedscript.shipped import shipped_folder
from tests.console.accessible import violations
from tests.console.browser import chromium
from tests.plan.test_stations_without_launcher import EAST, SHADOW, WEST
from tests.plan.test_stations_without_launcher import text_of as stations_text
from tests.review.sheet.lessons import PAPERS, draw, lesson_of, printed, text_of

WORK = "Split step and first step, ten to each side."
STATIONS = "seven-at-three-stations"
PT = 96 / 72  # pixels of a browser


@pytest.fixture(scope="module")
def sheets(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    """Sheets by name: a full hour, one that is too full, and stations."""
    folder = tmp_path_factory.mktemp("sheets")
    found = {}
    for name, exercises in (("six", 6), ("fourteen", 14)):
        program = folder / f"{name}.feed"
        program.write_text(lesson_of(exercises), "utf-8")
        found[name] = folder / f"{name}.html"
        draw(program, found[name], "--sheet")
    found[STATIONS] = folder / f"{STATIONS}.html"
    draw(STATIONS, found[STATIONS], "--sheet")
    return found


@pytest.fixture(scope="module")
def papers(sheets: dict[str, Path]) -> dict[tuple[str, str], PdfReader]:
    return anyio.run(printed, list(sheets.values()))


@pytest.mark.parametrize("size", PAPERS)
@pytest.mark.parametrize("name", ["six", STATIONS])
def test_an_hour_of_six_exercises_is_one_page(papers, name: str, size: str) -> None:
    (page,) = papers[name, size].pages
    sides_mm = [round(float(side) * 25.4 / 72) for side in page.mediabox[2:]]
    assert sides_mm == {"A4": [210, 297], "Letter": [216, 279]}[size]


def test_all_that_the_coach_wrote_is_on_the_paper(papers) -> None:
    words = text_of(papers["six", "A4"])
    for number in range(1, 7):
        assert f"{number}. Number {number} of the hour, forehand and backhand" in words
        assert f"past the service line {number}, and back to the middle after it" in words
        assert f"shoulders {number} turned before the bounce, small steps after" in words
    assert words.count("Target: deep cross (four cones) Goal: 3 of 4 in target") == 6
    assert words.count("8 min · 24 balls") == 6
    assert words.count("Then break 2 min: water, and who saw what") == 3
    assert "60 min · singles court, hard · type 2 balls" in words
    assert "Ana, Ben, Cleo (left), Dan, Eva, Finn · club" in words
    assert "60 balls, again after each collect" in words
    assert "the manual counts" in words


@pytest.mark.parametrize("size", PAPERS)
def test_what_does_not_fit_goes_on_and_no_exercise_is_cut(papers, size: str) -> None:
    pages = [" ".join(page.extract_text().split()) for page in papers["fourteen", size].pages]
    assert len(pages) > 1
    for number in range(1, 15):
        (whole,) = [page for page in pages if f"{number}. Number {number} of the hour" in page]
        assert f"shoulders {number} turned before the bounce, small steps after" in whole


@pytest.mark.long
def test_every_shipped_lesson_of_up_to_six_exercises_is_one_page(tmp_path: Path) -> None:
    drawn = []
    for program in sorted(shipped_folder().glob("*.feed")):
        plan = check_program(program).plan
        assert plan is not None
        if sum(isinstance(step, Exercise) for step in plan.steps) <= 6:
            drawn.append(tmp_path / f"{program.stem}.html")
            draw(program, drawn[-1], "--sheet")
    made = anyio.run(printed, drawn)
    assert {key: len(pdf.pages) for key, pdf in made.items()} == dict.fromkeys(made, 1)


def where_they_are() -> dict[tuple[int, str], set[str]]:
    """Who has a turn at each station, round by round, in a run of the plan."""
    plan = check_program(shipped_folder() / f"{STATIONS}.feed").plan
    assert plan is not None
    found: dict[tuple[int, str], set[str]] = defaultdict(set)
    number = 0
    for action in run_through(plan, lambda one: False if isinstance(one, Ask) else None):
        number += isinstance(action, StartStations)
        if isinstance(action, TakeTurn) and action.player is not None:
            found[number, action.station].add(plan.group.players[action.player].name)
    return found


def test_who_is_where_is_what_a_run_does(sheets: dict[str, Path]) -> None:
    page = sheets[STATIONS].read_text("utf-8")
    table = ET.fromstring(re.search(r"<table>.*?</table>", page, re.S)[0])
    heads = ["".join(cell.itertext()) for cell in table.iter("th") if cell.get("scope") == "col"]
    rows = [[cell.text or "" for cell in row.iter("td")] for row in table.find("tbody")]
    cells = {
        (number, head): set(cell.split(", "))
        for number, row in enumerate(rows, 1)
        for head, cell in zip(heads, row, strict=True)
    }
    ran = where_they_are()
    assert len(ran) == 6  # three rounds at two launchers
    assert {key: cells[key] for key in ran} == ran
    everybody = set("ABCDEFG")
    for number in (1, 2, 3):
        at = [name for (row, _), there in cells.items() if row == number for name in there]
        assert sorted(at) == sorted(everybody)  # nobody twice, nobody nowhere
    assert f"<b>fence:</b> {WORK}" in page


@pytest.mark.parametrize(
    ("between", "said"),
    [(", collect between", ["Then collect the balls"] * 2), ("", [])],
)
def test_what_is_between_rounds_stands_between_their_rows(
    tmp_path: Path, between: str, said: list[str]
) -> None:
    program = tmp_path / "rounds.feed"
    text = stations_text(5, [WEST, EAST, SHADOW], between=between)
    program.write_text(text, "utf-8")
    page = draw(program, tmp_path / "rounds.html", "--sheet")
    table = ET.fromstring(re.search(r"<table>.*?</table>", page, re.S)[0])
    rows = ["".join(row.itertext()) for row in table.find("tbody")]
    assert [row for row in rows if not row.startswith("Round")] == said
    kinds = [True, False, True, False, True] if said else [True] * 3
    assert [row.startswith("Round") for row in rows] == kinds


_SMALLEST = """() => {
  const found = { words: Infinity, picture: Infinity };
  const walker = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
  for (let node = walker.nextNode(); node; node = walker.nextNode()) {
    const element = node.parentElement;
    if (!node.data.trim() || element.closest("title")) continue;
    const size = parseFloat(getComputedStyle(element).fontSize);
    const svg = element.closest("svg");
    if (!svg) found.words = Math.min(found.words, size);
    else found.picture = Math.min(found.picture, size * element.getScreenCTM().a
      || size * Math.abs(element.getScreenCTM().b));
  }
  return found;
}"""


_TOO_WIDE = """() => [document.documentElement, ...document.body.querySelectorAll("*")]
  .filter((one) => one.getBoundingClientRect().right > 321)
  .map((one) => one.outerHTML.slice(0, 60))"""


async def looked_at(*paths: Path) -> dict[str, tuple[dict[str, float], list[str]]]:
    """The smallest words in print, in pixels; and what is beyond the edge of a phone."""
    found = {}
    async with chromium() as browser:
        page = await browser.new_page()
        for path in paths:
            await page.set_viewport_size({"width": 733, "height": 1062})
            await page.emulate_media(media="print")
            await page.goto(path.as_uri())
            small = await page.evaluate(_SMALLEST)
            await page.emulate_media(media="screen")
            await page.set_viewport_size({"width": 320, "height": 640})
            found[path.stem] = small, await page.evaluate(_TOO_WIDE)
    return found


def test_it_can_be_read_at_arms_length_and_on_a_phone(sheets: dict[str, Path]) -> None:
    """Eleven points for words; what stands in a picture is looked at from nearer."""
    for small, beyond in anyio.run(looked_at, *sheets.values()).values():
        assert small["words"] >= 11 * PT - 0.01
        assert small["picture"] >= 8 * PT
        assert beyond == []


async def violations_of(*paths: Path) -> dict[str, list[str]]:
    """What axe-core finds against WCAG 2.1, levels A and AA, on a phone."""
    found: dict[str, list[str]] = {}
    async with chromium() as browser:
        # The pages let nothing run; the test's own script has to.
        page = await (await browser.new_context(bypass_csp=True)).new_page()
        await page.set_viewport_size({"width": 320, "height": 640})
        for path in paths:
            await page.goto(path.as_uri())
            found[path.stem] = list(await violations(page))
    return found


def test_paper_and_picture_are_accessible_on_a_screen(sheets, tmp_path: Path) -> None:
    cards, picture = tmp_path / "cards.html", tmp_path / "picture.html"
    draw(STATIONS, cards, "--cards")
    draw(STATIONS, picture)
    found = anyio.run(violations_of, sheets["six"], sheets[STATIONS], cards, picture)
    assert found == {"six": [], STATIONS: [], "cards": [], "picture": []}


#: Rule 1 of the ITF's Rules of Tennis: 23.77 m by 10.97 m with the alleys.
LENGTH_M, WIDTH_M = 23.77, 10.97


def outline(page: str) -> tuple[ET.Element, list[float], list[float]]:
    """The first picture, and the corners of its court."""
    svg = ET.fromstring(re.search(r"<svg.*?</svg>", page, re.S)[0])
    polygon = next(
        e for e in svg.iter() if e.tag.endswith("polygon") and e.get("fill") == "#dfe8ef"
    )
    corners = [tuple(map(float, p.split(","))) for p in polygon.get("points", "").split()]
    return svg, [x for x, _ in corners], [y for _, y in corners]


@pytest.mark.parametrize("stand", ["player", "launcher"])
def test_the_picture_is_to_scale_and_lies_as_one_stands(tmp_path: Path, stand: str) -> None:
    program = tmp_path / "six.feed"
    program.write_text(lesson_of(6), "utf-8")
    page = draw(program, tmp_path / "six.html", "--sheet", "--stand", stand)
    svg, xs, ys = outline(page)
    metre = (max(ys) - min(ys)) / LENGTH_M
    assert (max(xs) - min(xs)) / metre == pytest.approx(WIDTH_M, abs=0.02)
    (mark,) = [e for e in svg.iter() if e.tag.endswith("circle") and e.get("fill") == "#0072B2"]
    across_m = (float(mark.get("cx", "")) - (min(xs) + max(xs)) / 2) / metre
    along_m = (float(mark.get("cy", "")) - (min(ys) + max(ys)) / 2) / metre
    # The forehand of a right-hander lies to the player's right: 1.6 m inside the singles line,
    # 3 m inside the player's baseline.
    right_m, near_m = 8.23 / 2 - 1.6, LENGTH_M / 2 - 3
    seen = {"player": (right_m, near_m), "launcher": (-right_m, -near_m)}[stand]
    assert (across_m, along_m) == pytest.approx(seen, abs=0.02)


def test_the_target_lies_where_the_program_says_for_either_hand(tmp_path: Path) -> None:
    """The last 2 m before the launcher's baseline, from the middle to the forehand's sideline."""
    program = tmp_path / "one.feed"
    program.write_text(lesson_of(1), "utf-8")
    svg, xs, ys = outline(draw(program, tmp_path / "one.html", "--sheet"))
    metre = (max(ys) - min(ys)) / LENGTH_M
    middle = (min(xs) + max(xs)) / 2
    found = {}
    for polygon in svg.iter():
        if polygon.tag.endswith("polygon") and polygon.get("fill") == "#ffe9a8":
            corners = [tuple(map(float, p.split(","))) for p in polygon.get("points", "").split()]
            across = sorted({round((x - middle) / metre, 2) for x, _ in corners})
            along = sorted({round((y - min(ys)) / metre, 2) for _, y in corners})
            found[polygon.get("stroke-dasharray")] = across, along
    # Its sides are those of somebody who stands there: a forehand crosscourt of a right-hander goes
    # to a right-hander's forehand, which is at the left as the player sees it.
    assert set(found) == {None, "6 4"}
    assert found[None][0] == pytest.approx([-8.23 / 2, 0], abs=0.02)
    assert found[None][1] == pytest.approx([0, 2], abs=0.02)
    assert found["6 4"][0] == pytest.approx([0, 8.23 / 2], abs=0.02)


def test_a_score_is_told_as_it_is_played(tmp_path: Path) -> None:
    program = tmp_path / "one.feed"
    played = "score to 8 in pairs { in target: 2  in: 1  error: launcher 1 }"
    program.write_text(lesson_of(1).replace("goal 3 of 4 in target", played), "utf-8")
    page = draw(program, tmp_path / "one.html", "--sheet")
    assert "to 8, in pairs, in target 2, in 1, error 1 to the launcher<" in page
    # The second exercise keeps the target, the first plays without one.
    played = "score to 4 { in: 1  error: launcher 1 }"
    without = lesson_of(2).replace('        target "deep cross"\n', "", 1)
    program.write_text(without.replace("goal 3 of 4 in target", played, 1), "utf-8")
    page = draw(program, tmp_path / "one.html", "--sheet")
    assert "to 4, in 1, error 1 to the launcher<" in page


def test_steps_of_a_progression_and_balls_on_request_are_told(tmp_path: Path) -> None:
    program = tmp_path / "steps.feed"
    text = lesson_of(1).replace("goal 3 of 4 in target", "goal 3 of 4 in")
    text = text.replace(
        "lesson of 60 min",
        "feed faster = deep_forehand with { speed 85 km/h }\n"
        "progression pace { deep_forehand, faster }\n"
        "lesson of 60 min",
    )
    text = text.replace("repeat 2 { send deep_forehand after 6 s", "repeat 2 { send pace after 6 s")
    text = text.replace("rest 12 s\n", "rest 12 s }\n", 1).replace(
        "rest 12 s }\n", "rest 12 s\n", 1
    )
    text = text.replace(
        "show speed of deep_backhand",
        "show speed of deep_backhand\n    show speed of faster",
    )
    asked = "send deep_backhand when coach taps, at most 5, not before 4 s"
    text = text.rstrip().removesuffix("}") + f"\n{asked}\n}}\n"
    program.write_text(text, "utf-8")
    page = draw(program, tmp_path / "steps.html", "--sheet")
    assert "<b>Steps:</b> pace: deep forehand, then faster<" in page
    assert "faster, 85 km/h" in page  # the harder rung stands among the feeds, with its place
    assert "up to 5 balls, 4 s apart or more" in page


def test_what_was_refused_is_not_put_on_paper(tmp_path: Path) -> None:
    program = tmp_path / "soon.feed"
    program.write_text(lesson_of(1).replace("after 6 s", "after 0.2 s"), "utf-8")
    out = tmp_path / "soon.html"
    result = CliRunner().invoke(command, [str(program), "--sheet", "-o", str(out)])
    assert result.exit_code == 1
    assert "too-soon" in result.output
    assert not out.exists()


@pytest.mark.parametrize("options", [("--sheet", "--worst"), ("--sheet", "--envelope")])
def test_one_thing_is_drawn_at_a_time(tmp_path: Path, options: tuple[str, ...]) -> None:
    result = CliRunner().invoke(command, [STATIONS, *options, "-o", str(tmp_path / "x.html")])
    assert result.exit_code == 2
    assert "give one of" in result.output
