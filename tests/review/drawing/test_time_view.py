"""The line of time in a real browser: every name is there, and no words cover others."""

from __future__ import annotations

import itertools
import re
from pathlib import Path

import anyio
import pytest
from click.testing import CliRunner

from feedscript.check.check_program import check_program
from feedscript.cli.prove.draw import command
from feedscript.plan.interpreter.actions import Ask, SendBall, StartStations
from feedscript.plan.interpreter.runs import run_through
from feedscript.review.drawing.timeline import longest_run
from feedscript.shipped import shipped_folder
from tests.console.browser import chromium

ALWAYS = ("wednesday-six", "seven-at-three-stations", "five-and-one-launcher")
PHONE_PX, PAPER_PX = 320, 980  # a small phone; a US letter sheet on its side, within its margins

_CROWDED = """feedscript 1
title "Crowded"
court { surface hard }
balls { type 2  load 60 }
launcher { profile "garage.toml"  stands 1 m behind centre mark }
group { players "Anastasia-Katharina", "Ben", "Cleo"  receiver 1 m behind baseline, on centre line }
feed deep { land 3 m inside baseline, on centre line  speed 80 km/h  spin top 900 rpm }
lesson {
    show speed of deep
"""
_SHORT = """
    exercise "Number {n}, with a title that has no room in so short a bar" {{
        send deep after 8 s
    }}
    break 30 s "drink number {n} and sit in the shade"
    wait for coach "what did you see in number {n}?"
"""


def crowded() -> str:
    """Many short exercises, breaks and waits, close together."""
    return _CROWDED + "".join(_SHORT.format(n=number) for number in range(1, 13)) + "}\n"


_BOXES = """() => {
  const line = document.querySelector(".line svg");
  const box = (one) => { const b = one.getBoundingClientRect();
    return [b.left, b.top, b.right, b.bottom]; };
  return { words: [...line.querySelectorAll("text")].map((one) => [one.textContent, box(one)]),
    all: box(line), page: document.documentElement.scrollWidth,
    height: parseFloat(getComputedStyle(line.querySelector("text")).fontSize)
      * line.getScreenCTM().a };
}"""


async def seen(*paths: Path) -> dict[tuple[str, str], dict]:
    """Every line of time, on a phone and on paper: its words, and where each stands."""
    found = {}
    async with chromium() as browser:
        page = await browser.new_page()
        for path in paths:
            await page.goto(path.as_uri())
            for where, width in (("phone", PHONE_PX), ("paper", PAPER_PX)):
                await page.emulate_media(media="print" if where == "paper" else "screen")
                await page.set_viewport_size({"width": width, "height": 700})
                found[path.stem, where] = await page.evaluate(_BOXES)
    return found


def draw(program: object, out: Path) -> Path:
    result = CliRunner().invoke(command, [str(program), "-o", str(out)])
    assert result.exit_code == 0, result.output
    return out


@pytest.fixture(scope="module")
def lines(tmp_path_factory: pytest.TempPathFactory) -> dict[tuple[str, str], dict]:
    folder = tmp_path_factory.mktemp("lines")
    (folder / "crowded.feed").write_text(crowded(), "utf-8")
    pages = [draw(name, folder / f"{name}.html") for name in ALWAYS]
    pages.append(draw(folder / "crowded.feed", folder / "crowded.html"))
    return anyio.run(seen, *pages)


def assert_apart(line: dict) -> None:
    left, top, right, bottom = line["all"]
    for (one, a), (other, b) in itertools.combinations(line["words"], 2):
        covered = min(a[2], b[2]) - max(a[0], b[0]), min(a[3], b[3]) - max(a[1], b[1])
        # Boxes of lines one below the other touch by their empty rims: a tenth of the height.
        assert covered[0] <= 0 or covered[1] <= 0.25 * (a[3] - a[1]), (one, other)
    for words, box in line["words"]:
        assert left - 1 <= box[0], words
        assert box[2] <= right + 1, words
        assert top - 1 <= box[1], words
        assert box[3] <= bottom + 1, words


@pytest.mark.parametrize("where", ["phone", "paper"])
@pytest.mark.parametrize("name", [*ALWAYS, "crowded"])
def test_no_words_cover_others_and_all_can_be_read(lines, name: str, where: str) -> None:
    line = lines[name, where]
    assert_apart(line)
    # On a phone the line is moved sideways at its full size; the page itself is not.
    assert line["page"] <= (PHONE_PX if where == "phone" else PAPER_PX)
    # 13 units: eleven pixels on a phone at least, seven and a half points on paper.
    assert line["height"] >= {"phone": 11.0, "paper": 7.5 * 96 / 72}[where]


def test_every_exercise_break_and_wait_is_named(lines) -> None:
    said = " ".join(words for words, _ in lines["crowded", "phone"]["words"])
    for number in range(1, 13):
        assert f"{number}. Number {number}, with a title" in said
        assert f"drink number {number} and sit in the shade" in said
        assert f"what did you see in number {number}?" in said
    said = " ".join(words for words, _ in lines["wednesday-six", "paper"]["words"])
    for title in ("1. Warm-up to the middle", "4. From side to side", "5. Three in, and"):
        assert title in said
    assert "break 3 min: water, and who saw what" in said
    assert "coach: What did you see? One word each." in said


def test_every_player_has_a_row_by_name(lines) -> None:
    words = [words for words, _ in lines["wednesday-six", "paper"]["words"]]
    assert [one for one in words if one in ("Alder", "Birch", "Cedar", "Elder", "Hazel", "Rowan")]
    crowded_words = [words for words, _ in lines["crowded", "paper"]["words"]]
    (long,) = [one for one in crowded_words if one.startswith("Anast")]
    assert long.endswith("\u2026")  # too long for its margin: the whole stands in the title


@pytest.mark.parametrize("name", ALWAYS)
def test_who_is_on_is_what_a_run_does(name: str) -> None:
    """Each ball of a player lies within one of that player's stays; work fills its rounds."""
    plan = check_program(shipped_folder() / f"{name}.feed").plan
    assert plan is not None
    run = longest_run(plan)
    actions = list(run_through(plan, lambda one: False if isinstance(one, Ask) else None))
    balls = [one for one in actions if isinstance(one, SendBall) and one.player is not None]
    assert balls
    for ball in balls:
        held = [s for s in run.stays if s.player == ball.player and not s.work]
        assert sum(s.begin_s <= ball.at_s < s.end_s for s in held) == 1
    at_work = {(s.player, s.begin_s, s.end_s) for s in run.stays if s.work}
    rounds = [one for one in actions if isinstance(one, StartStations)]
    assert at_work == {
        (player, one.at_s, one.until_s)
        for one in rounds
        for station in one.stations
        if station.launcher is None
        for player in station.players
    }


def test_the_page_says_in_order_what_happens(tmp_path: Path) -> None:
    page = draw("wednesday-six", tmp_path / "x.html").read_text("utf-8")
    listed = re.findall(r"<li>(\d+:\d\d) (.*?)</li>", page)
    assert [words for _, words in listed] == [
        "1. Warm-up to the middle",
        "2. Depth, forehand crosscourt",
        "break 3 min: water, and who saw what",
        "3. Depth, backhand",
        "4. From side to side",
        "coach: What did you see? One word each.",
        "5. Three in, and the next is on",
    ]


@pytest.mark.long
def test_so_it_is_for_every_shipped_lesson(tmp_path: Path) -> None:
    programs = sorted(shipped_folder().glob("*.feed"))
    pages = [draw(one, tmp_path / f"{one.stem}.html") for one in programs]
    for line in anyio.run(seen, *pages).values():
        assert_apart(line)
