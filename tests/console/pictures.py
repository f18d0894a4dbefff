"""The guide's pictures of a lesson on court and of its report, taken anew.

``python -m tests.console.pictures`` writes ``shared/guide/pictures``: the coach's phone, the
group's screen, and the report of a rehearsal. The group is invented, as its program says. Each
picture says what it was taken of; a test says when that has changed.
"""

from __future__ import annotations

import hashlib
import re
import tempfile
from pathlib import Path

from click.testing import CliRunner
from playwright.sync_api import Browser, Page, sync_playwright

from feedscript.check.check_program import check_program
from feedscript.cli import verbs
from feedscript.console.access import Role
from feedscript.session.operator.phases import Phase
from feedscript.shipped import program_path
from tests.conftest import ROOT
from tests.console.browser import CHROMIUM, PHONE, QUIET, SCREEN
from tests.console.court_in_jumps import JumpingCourt
from tests.console.test_week_from_a_phone import PLAYED_S, Coach
from tests.desk.pictures import written

FOLDER = ROOT / "shared" / "guide" / "pictures"
PROGRAM = "wednesday-six"
REPORTED = "thursday-juniors"
CONSOLE = ROOT / "feedscript" / "console" / "static"
PAGES = {"phone": "court-side.html", "group": "group.html"}
SHEET = {"width": 860, "height": 760}
SIZES = {"phone": PHONE, "group": SCREEN, "report": SHEET}
#: Balls that have left when the pictures on court are taken.
BALLS = 9


def report(folder: Path) -> Path:
    """A rehearsal's report, its players drawn."""
    for line in (
        ["rehearse", REPORTED, "--results", "drawn", "--journal", str(folder / "j.sqlite")],
        ["review", "--journal", str(folder / "j.sqlite"), "-o", str(folder / "report.html")],
    ):
        done = CliRunner().invoke(verbs, line)
        assert done.exit_code == 0, done.output
    return folder / "report.html"


def taken_of(name: str) -> str:
    """What the picture shows, told apart: a program's words, and what the page calls its parts."""
    if name == "report":
        words = program_path(REPORTED).read_text("utf-8")
        with tempfile.TemporaryDirectory() as folder:
            page = report(Path(folder)).read_text("utf-8")
        parts = re.findall(r"<(?:th|h[1-3])\b[^>]*>(.*?)</", page)
    else:
        words = program_path(PROGRAM).read_text("utf-8")
        page = (CONSOLE / PAGES[name]).read_text("utf-8")
        parts = re.findall(r"\{\{(.*?)\}\}", page)
    assert parts
    return hashlib.sha256("\n".join([words, *parts]).encode()).hexdigest()


def take_all() -> dict[str, bytes]:
    """Every picture, as PNG."""
    with tempfile.TemporaryDirectory() as made, sync_playwright() as playwright:
        folder = Path(made)
        browser = playwright.chromium.launch(executable_path=CHROMIUM, args=QUIET)
        found = _on_court(browser, folder)
        page = _page(browser, SHEET)
        page.goto(report(folder).as_uri())
        page.locator("section.player").first.evaluate("one => one.scrollIntoView()")
        found["report"] = page.screenshot(animations="disabled")
        browser.close()
    return found


def _page(browser: Browser, size: dict[str, int]) -> Page:
    return browser.new_context(viewport=size, locale="en-GB", reduced_motion="reduce").new_page()  # type: ignore[arg-type]


def _on_court(browser: Browser, folder: Path) -> dict[str, bytes]:
    verdict = check_program(program_path(PROGRAM))
    with JumpingCourt(verdict, PROGRAM, folder / "lesson.sqlite") as court:
        assert court.served is not None
        phone, group = _page(browser, PHONE), _page(browser, SCREEN)
        phone.goto(court.served.pairing_link(Role.COACH))
        group.goto(court.served.pairing_link(Role.VIEWER))
        group.wait_for_selector(".next-up")
        group.goto(f"{court.served.url}/group")
        phone.click("#take")
        coach = Coach(court, phone, PROGRAM)
        while court.view.balls_left < BALLS:
            if court.view.phase is Phase.RUNNING:
                left = court.view.balls_left
                court.until(lambda view, left=left: view.balls_left > left)  # type: ignore[misc]
                court.let_pass(PLAYED_S)
                coach.tap_result()
            else:
                coach.do_what_is_asked(court.view)
        for page in (phone, group):
            page.wait_for_timeout(1500)
        return {
            "phone": phone.screenshot(animations="disabled"),
            "group": group.screenshot(animations="disabled"),
        }


if __name__ == "__main__":
    FOLDER.mkdir(exist_ok=True)
    for name, png in take_all().items():
        (FOLDER / f"{name}.png").write_bytes(written(png, taken_of(name)))
