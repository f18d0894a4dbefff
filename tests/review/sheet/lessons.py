"""Invented lessons for sheets, and how a browser prints them."""

from __future__ import annotations

import io
from collections.abc import Sequence
from pathlib import Path

from click.testing import CliRunner
from pypdf import PdfReader

from feedscript.cli.prove.draw import command
from tests.console.browser import chromium

PAPERS = ("A4", "Letter")

_HEAD = """feedscript 1
title "Long words for the fence, so that every line is as long as a coach may make it"
court { surface hard }
balls { type 2  load 60 }
suits { theme "depth"  stage club to county  players 2 to 6  needs "four cones" }
launcher { profile "garage.toml"  stands 1 m behind centre mark }
group {
    players "Ana", "Ben", "Cleo", "Dan", "Eva", "Finn"
    level club
    left-handed "Cleo"
    receiver 1 m behind baseline, on centre line
}
feed deep_forehand {
    land 3 m inside baseline, 1.6 m inside forehand sideline
    speed 80 km/h
    spin top 900 rpm
}
feed deep_backhand {
    land 3 m inside baseline, 1.6 m inside backhand sideline
    speed 80 km/h
    spin top 900 rpm
}
target "deep cross" {
    between 2 m inside baseline, on centre line and on baseline, on forehand sideline
    marked "four cones"
}
lesson of 60 min {
    show speed of deep_forehand
    show speed of deep_backhand
"""

_EXERCISE = """
    exercise "Number {number} of the hour, forehand and backhand" for 8 min, at most 0 repeats {{
        aim "past the service line {number}, and back to the middle after it"
        target "deep cross"
        goal 3 of 4 in target
        watch "shoulders {number} turned before the bounce, small steps after"
        easier "from the service line with a soft ball, number {number}"
        harder "only the last metre counts, number {number}"
        for each player {{
            repeat 2 {{ send deep_forehand after 6 s  send deep_backhand after 6 s }}  rest 12 s
        }}
    }}
    {between}
"""


def lesson_of(exercises: int) -> str:
    """So many exercises, each with as many words as fit its head; a break after every second."""
    between = ("collect", 'break 2 min "water, and who saw what"')
    body = "".join(
        _EXERCISE.format(number=number, between=between[number % 2])
        for number in range(1, exercises + 1)
    )
    return f"{_HEAD}{body}}}\n"


def draw(program: object, out: Path, *options: str) -> str:
    """Draw a program by its file or name; what was written."""
    result = CliRunner().invoke(command, [str(program), "-o", str(out), *options])
    assert result.exit_code == 0, result.output
    return out.read_text("utf-8")


async def printed(pages: Sequence[Path]) -> dict[tuple[str, str], PdfReader]:
    """Every page on both kinds of paper, as the browser's "save as PDF" makes it."""
    found = {}
    async with chromium() as browser:
        page = await browser.new_page()
        for path in pages:
            await page.goto(path.as_uri())
            for size in PAPERS:
                made = await page.pdf(format=size, prefer_css_page_size=True)
                found[path.stem, size] = PdfReader(io.BytesIO(made))
    return found


def text_of(pdf: PdfReader) -> str:
    """All its words, on one line."""
    return " ".join(" ".join(page.extract_text() for page in pdf.pages).split())
