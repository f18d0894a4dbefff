"""A lesson that measures, on the phone: each ball is sent, marked where it landed, marked anew or
left out. The engine and the stand-in are the real ones, on a clock that jumps."""

from __future__ import annotations

import os
from pathlib import Path

import axe_playwright_python
from playwright.sync_api import Page, expect, sync_playwright

from feedscript.check.check_program import check_program
from feedscript.console.access import Role
from feedscript.journal.store import read_journal
from feedscript.session.operator.commands import SeenBy
from feedscript.session.operator.controls import Area, Look
from feedscript.session.operator.phases import ENDED, Phase
from feedscript.watch.marked import marks_of
from tests.console.browser import (
    CHROMIUM,
    PHONE,
    PHONE_ON_ITS_SIDE,
    QUIET,
    SMALL,
    TOO_SMALL,
    TOO_WIDE,
)
from tests.console.court_in_jumps import JumpingCourt

AXE = Path(axe_playwright_python.__file__).with_name("axe.min.js")
READ_MS = 450
PROGRAM = """feedscript 1
title "Tuning of an invented launcher"
court { altitude 0 m }
balls { type 2 }
launcher { profile "garage"  stands 1 m behind centre mark  load 20 }
feed setting_1 { land 3 m inside baseline, on centre line  speed 75 km/h }
feed setting_2 { land 2 m inside baseline, on centre line  speed 70 km/h }
lesson {
    show speed of setting_1
    send setting_1 when coach taps, at most 6, not before 6 s
    send setting_2 when coach taps, at most 6, not before 6 s
    wait for coach "Is every landing marked?"
}
"""


class Hobbyist:
    """Who sends the balls and says where they land."""

    def __init__(self, court: JumpingCourt, page: Page) -> None:
        self.court, self.page = court, page
        page.click("#take")

    def until_running(self) -> None:
        """Through whatever is asked before balls fly."""
        while (view := self.court.view).phase is not Phase.RUNNING:
            if view.phase in ENDED:
                return
            if view.phase is Phase.SETTING_UP:
                self.page.locator('#steps button[aria-pressed="false"]').first.click()
            else:
                for one in view.controls:
                    asked = one.area in (Area.WAITS, Area.PLAY) and one.look is Look.GO
                    if asked and one.shown and one.can_be_done:
                        self.tap(one.name)
            self.court.until(lambda now, seen=view: now.revision > seen.revision)

    def tap(self, name: str) -> None:
        button = self.page.locator(f'[data-control="{name}"]')
        expect(button).to_be_enabled()
        self.page.wait_for_timeout(READ_MS)
        button.click()

    def send(self) -> int:
        """Another ball; its number."""
        left = self.court.view.balls_left
        self.court.until(lambda now: now.request is not None and not now.request.asked)
        self.tap("send-one")
        view = self.court.until(lambda now: now.balls_left > left)
        assert view.private.fed is not None
        number = view.private.fed[0].feed_id
        expect(self.page.locator("#measure-of")).to_contain_text(f"Ball {number}, ")
        return number

    def listed(self, words: str) -> None:
        expect(self.page.locator("#measured li").first).to_contain_text(words)


def look(page: Page, name: str) -> None:
    """Everything in reach of a thumb, nothing cut off, the stop in sight, and what axe finds; a
    picture on request."""
    for size in (SMALL, PHONE_ON_ITS_SIDE, PHONE):
        page.set_viewport_size(size)
        if folder := os.environ.get("PICTURES"):
            page.screenshot(path=f"{folder}/{name}-{size['width']}.png")
        assert page.evaluate(TOO_WIDE) == []
        assert page.evaluate(TOO_SMALL) == []
        stop = page.locator("#stop").bounding_box()
        assert stop is not None
        assert 0 <= stop["y"] <= size["height"] - stop["height"] + 1
    if page.locator("#landing").is_visible():
        return  # there is nothing else then: no main part of the page
    page.evaluate(AXE.read_text())
    found = page.evaluate("() => axe.run()")
    assert [(one["id"], one["nodes"][0]["html"]) for one in found["violations"]] == []


def measured(at: Hobbyist) -> None:
    page, court = at.page, at.court
    at.until_running()
    expect(page.locator("#pad")).to_be_hidden()
    page.click("#measure-none")  # the speed ball
    at.listed("left out")
    at.send()
    page.click("#measure-eye")
    look(page, "measuring-tap")
    page.keyboard.press("ArrowDown")  # from behind the launcher: nearer to the net
    expect(page.locator("#landing-at")).to_contain_text("m past the net")
    page.keyboard.press("Enter")
    at.listed("m from where it was to land")
    at.send()
    page.click("#measure-tape")
    page.fill("#tape-along", "2.5")
    page.fill("#tape-across", "0.4")
    page.select_option("#tape-across-from", label="to deuce of the centre line")
    look(page, "measuring-tape")
    page.click("#tape button[type=submit]")
    at.listed("Ball 3, setting 1")
    at.tap("next")
    court.until(lambda now: now.request is not None and now.request.feed == "setting 2")
    at.send()
    page.click("#measure-film")
    at.listed("by a film")
    page.click("#measured button:has-text('Mark ball 3 anew')")
    page.click("#measure-none")
    expect(page.locator("#measured")).to_contain_text("Ball 3, setting 1: left out.")
    look(page, "measuring-list")
    at.tap("next")
    court.until(lambda now: now.phase is Phase.COLLECTING)
    at.until_running()


def test_each_ball_is_sent_and_marked_from_the_phone(tmp_path: Path) -> None:
    verdict = check_program(tmp_path / "tuning.feed", text=PROGRAM)
    trouble: list[str] = []
    with (
        JumpingCourt(verdict, "", tmp_path / "journal.sqlite", measures=True) as court,
        sync_playwright() as playwright,
    ):
        browser = playwright.chromium.launch(executable_path=CHROMIUM, args=QUIET)
        page = browser.new_context(viewport=PHONE, locale="en-GB").new_page()
        page.on("pageerror", lambda error: trouble.append(str(error)))
        assert court.served is not None
        page.goto(court.served.pairing_link(Role.COACH))
        measured(Hobbyist(court, page))
        browser.close()
    assert trouble == []
    journal = read_journal(tmp_path / "journal.sqlite")
    marks = marks_of(journal, 1)
    journal.close()
    assert {n: mark.seen_by for n, mark in marks.items()} == {
        1: SeenBy.NOBODY, 2: SeenBy.EYE, 3: SeenBy.NOBODY, 4: SeenBy.FILM,
    }  # fmt: skip
    asked_y_m = court.plan.feeds[0].landing_m[1]
    assert marks[2].landing_m is not None
    assert abs(marks[2].landing_m[1] - (asked_y_m - 0.25)) < 0.01
