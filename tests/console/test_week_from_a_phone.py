"""The eight lessons of a coach's week, each played to its end from a phone: real taps in a real
browser, the real engine and stand-in, on a clock that jumps from tap to tap.

Each has a story: who comes late, who goes, what is done again, skipped and jumped to, and at last
the end at the hour, which cuts no turn. What the balls became is drawn from the story's seed. Then
journal and review say what was tapped, and the balls kept every bound that the certificate states.
"""

from __future__ import annotations

import random
import re
from collections import Counter
from itertools import pairwise
from pathlib import Path

import msgspec
import pytest
from playwright.sync_api import Page, expect, sync_playwright

from feedscript.check.check_program import check_program
from feedscript.console.access import Role
from feedscript.journal.store import read_journal
from feedscript.plan.model import Collect
from feedscript.review.report.lesson import Lesson, read_lesson
from feedscript.safety.hazards.work import balls_of_each
from feedscript.session.operator.controls import Area, Look
from feedscript.session.operator.phases import ENDED, Phase
from feedscript.session.operator.view import LessonView
from feedscript.shipped import program_path
from tests.console.browser import CHROMIUM, PHONE, QUIET
from tests.console.court_in_jumps import JumpingCourt

pytestmark = pytest.mark.real_time

GOOD = ("in", "target")
RESULTS = ("in", "in", "in", "long", "net", "left", "right")
#: When the story is told the coach talks until so long before the hour is full, and ends at the
#: hour. No turn is cut for it, and none takes longer than this.
LEFT_TO_PLAY_S = 100.0
#: How long people take, by the lesson's own clock: to pick up, to look the launcher over.
PICK_UP_S = 55.0
THINK_S = 4.0
#: By the phone's own time: what is asked is read first.
READ_MS = 450
#: From the moment a ball leaves until its shot has come down and the coach has a thumb free.
PLAYED_S = 2.6
NEWCOMER = "Nova"


class Move(msgspec.Struct, frozen=True):
    """What the coach does in the exercise of this number, once so many of its balls have left."""

    exercise: int
    after: int
    do: str  # late, lost, again, skip, or the number of the exercise to go to
    who: str = ""


STORIES: dict[str, tuple[Move, ...]] = {
    "monday-one": (
        Move(1, 3, "late", NEWCOMER),
        Move(2, 4, "again"),
        Move(3, 3, "lost", NEWCOMER),
        Move(4, 5, "6"),
    ),
    "tuesday-two": (
        Move(1, 3, "late", NEWCOMER),
        Move(2, 4, "again"),
        Move(3, 3, "lost", "Marlen"),
        Move(4, 2, "6"),
    ),
    "wednesday-six": (
        Move(1, 4, "late", NEWCOMER),
        Move(2, 6, "lost", "Elder"),
        Move(3, 5, "again"),
        Move(3, 8, "5"),
    ),
    "thursday-three": (
        Move(1, 4, "late", NEWCOMER),
        Move(2, 5, "again"),
        Move(3, 3, "lost", "Wiebe"),
        Move(4, 4, "skip"),
    ),
    "friday-seven": (
        Move(1, 5, "late", NEWCOMER),
        Move(2, 8, "lost", "Frida"),
        Move(3, 9, "4"),
        Move(4, 5, "again"),
    ),
    "saturday-eight": (
        Move(1, 2, "late", NEWCOMER),
        Move(1, 5, "again"),
        Move(2, 6, "lost", "Gil"),
        Move(2, 9, "skip"),
    ),
    "sunday-eleven": (
        Move(1, 5, "late", NEWCOMER),
        Move(2, 9, "lost", "Tanne"),
        Move(3, 7, "4"),
        Move(4, 6, "again"),
    ),
    "rainy-hall-five": (
        Move(1, 4, "late", NEWCOMER),
        Move(2, 5, "skip"),
        Move(3, 3, "lost", "Pim"),
        Move(4, 4, "again"),
    ),
}
#: Played whenever the tests are run; the others where they may take long.
ALWAYS = ("saturday-eight",)


class Tapped(msgspec.Struct, frozen=True):
    """A result that was tapped, and whose ball the phone then said that it was."""

    player: str | None
    result: str


class Coach:
    """Who taps on the phone, and remembers what was tapped."""

    def __init__(self, court: JumpingCourt, page: Page, name: str) -> None:
        self.court = court
        self.page = page
        self.chance = random.Random(f"{name} 1")
        self.moves = list(STORIES[name])
        self.results: dict[int, Tapped] = {}  # by the number of the ball
        self.begun: list[str] = []  # the exercises, as each began
        self.breaks = 0
        self.ends_at_hour = False
        self.exercise = 0
        self.at_its_head = 0  # balls that had left when it began

    # --- the lesson, from what the page asks to its end

    def conduct(self) -> None:
        self.page.click("#take")
        while (view := self.court.view).phase not in ENDED:
            if view.phase is Phase.RUNNING and not view.stopping:
                self.play(view)
            else:
                self.do_what_is_asked(view)

    def play(self, view: LessonView) -> None:
        """Until the next ball, or until something else is wanted; then tap what it became."""
        left = view.balls_left
        view = self.court.until(lambda now: now.balls_left > left or now.phase is not Phase.RUNNING)
        self.notice_exercise(view, left)
        if view.balls_left > left and view.phase is Phase.RUNNING:
            if self.chance.random() < 0.25:
                self.court.let_pass(PLAYED_S)
                self.tap_result()
            self.move(self.court.view)
            self.end_at_hour(self.court.view)

    def notice_exercise(self, view: LessonView, left: int) -> None:
        number = view.exercise.number if view.exercise else 0
        if number != self.exercise:
            self.exercise, self.at_its_head = number, left
            if view.exercise is not None:
                title = f"{number} of {view.exercise.of}: {view.exercise.title}"
                expect(self.page.locator("#exercise-title")).to_have_text(title)
                self.begun.append(view.exercise.title)

    def do_what_is_asked(self, view: LessonView) -> None:
        if view.phase is Phase.SETTING_UP:
            # By its key: the page may still show the step before as not yet confirmed.
            # All are for a moment, between the last one's yes and what comes after it.
            step = next((one for one in view.set_up if not one.confirmed), None)
            if step is not None:
                self.page.click(f'#steps button[data-key="{step.key}"]')
        elif view.break_s:
            self.breaks += 1
            self.court.until(lambda now: not now.break_s)
        elif (wanted := yes(view)) is not None:
            self.court.let_pass(self.takes_s(view))
            self.tap(wanted)
        self.court.until(lambda now: now.revision > view.revision)

    def takes_s(self, view: LessonView) -> float:
        """How long people are about it; the last time, the coach has something to say."""
        if view.phase is not Phase.COLLECTING:
            return THINK_S
        assert view.hour is not None
        talk_s = view.hour.planned_s - LEFT_TO_PLAY_S - view.hour.run_s
        return PICK_UP_S if self.moves else max(PICK_UP_S, talk_s)

    # --- what is tapped

    def tap(self, name: str) -> None:
        """As a person does: what is asked is read first, and the page takes it."""
        button = self.page.locator(f'[data-control="{name}"]')
        expect(button).to_be_enabled()
        self.page.wait_for_timeout(READ_MS)
        button.click()

    def tap_result(self) -> None:
        result = self.chance.choice(RESULTS)
        if any(one.name == "target" and one.shown for one in self.court.view.controls):
            result = self.chance.choice((result, "target"))
        self.page.click(f'[data-control="{result}"]')
        count = self.page.locator("#recorded")
        expect(count).to_have_attribute("data-count", str(len(self.results) + 1))
        last = self.court.view.private.last_record
        assert last is not None
        assert f"Ball {last.feed_id}:" in count.inner_text()
        self.results[last.feed_id] = Tapped(last.player, result)

    def move(self, view: LessonView) -> None:
        """The next move of the story, once it is due."""
        if not self.moves or view.phase is not Phase.RUNNING:
            return
        move = self.moves[0]
        so_far = view.balls_left - self.at_its_head
        if move.exercise == self.exercise and so_far >= move.after:
            self.moves.pop(0)
            {"late": self.late, "lost": self.lost}.get(move.do, self.jump)(move)

    def end_at_hour(self, view: LessonView) -> None:
        """Once the story is told and the page offers it."""
        offered = any(one.name == "end-at-hour" and one.shown for one in view.controls)
        if offered and not self.moves and not self.ends_at_hour and view.phase is Phase.RUNNING:
            self.page.click('[data-control="end-at-hour"]')
            expect(self.page.locator('[data-control="play-on"]')).to_be_visible()
            self.ends_at_hour = True

    def late(self, move: Move) -> None:
        self.open_more()
        self.page.fill("#new-name", move.who)
        self.page.click("#joins")
        expect(self.row(move.who)).to_be_visible()
        self.close_more()

    def lost(self, move: Move) -> None:
        self.open_more()
        self.row(move.who).locator("select").select_option("gone")
        expect(self.row(move.who).locator("select")).to_have_value("gone")
        self.close_more()

    def jump(self, move: Move) -> None:
        if move.do in ("again", "skip"):
            self.tap({"again": "exercise-again", "skip": "skip-exercise"}[move.do])
        else:
            self.open_more()
            self.page.click(f"#exercises button:has-text('Go to {move.do}:')")
            self.close_more()
        self.court.until(lambda now: now.phase is not Phase.RUNNING)
        self.exercise = 0

    def row(self, player: str):
        return self.page.locator("#players tbody tr", has_text=player)

    def open_more(self) -> None:
        self.page.click("#more > summary")

    close_more = open_more


def yes(view: LessonView) -> str | None:
    """The button that lets the lesson go on, where there is one."""
    for one in view.controls:
        asked = one.area in (Area.WAITS, Area.PLAY) and one.look is Look.GO
        if asked and one.shown and one.can_be_done:
            return one.name
    return None


def played(name: str, folder: Path) -> tuple[Coach, Lesson, float]:
    """The lesson, played through; and how long it took by its own clock."""
    verdict = check_program(program_path(name))
    trouble: list[str] = []
    with (
        JumpingCourt(verdict, name, folder / "journal.sqlite") as court,
        sync_playwright() as playwright,
    ):
        browser = playwright.chromium.launch(executable_path=CHROMIUM, args=QUIET)
        page = browser.new_context(viewport=PHONE, locale="en-GB").new_page()
        page.on("pageerror", lambda error: trouble.append(str(error)))
        page.goto(court.served.pairing_link(Role.COACH))
        coach = Coach(court, page, name)
        coach.conduct()
        hour = court.view.hour
        review_says(page, coach)
        browser.close()
    assert trouble == []
    journal = read_journal(folder / "journal.sqlite")
    lesson = read_lesson(journal)
    journal.close()
    assert hour is not None
    return coach, lesson, hour.run_s


def review_says(page: Page, coach: Coach) -> None:
    """What the coach opens on the phone when the lesson is over."""
    page.wait_for_selector("#review:visible")
    with page.context.expect_page() as opened:
        page.click("#review")
    report = opened.value
    report.wait_for_selector("h1")
    found: dict[str, tuple[int, int]] = {}
    for section in report.locator("section.player").all():
        said = re.search(r"(\d+) of (\d+) recorded balls in court", section.inner_text())
        if said is not None:
            found[section.locator("h2").inner_text()] = (int(said[1]), int(said[2]))
    assert {name: found.get(name) for name in recorded_of_each(coach)} == recorded_of_each(coach)
    ended = report.locator("table", has_text="How it ended").locator("tbody tr > :first-child")
    assert ended.all_inner_texts() == coach.begun
    report.close()


def recorded_of_each(coach: Coach) -> dict[str, tuple[int, int]]:
    """Of each player of whom anything was tapped: how many in court, of how many."""
    found: dict[str, tuple[int, int]] = {}
    for tapped in coach.results.values():
        if tapped.player is not None:
            made, of = found.get(tapped.player, (0, 0))
            found[tapped.player] = (made + (tapped.result in GOOD), of + 1)
    return found


def kept_the_bounds(coach: Coach, lesson: Lesson) -> None:
    """Of the certificate, every repeat used; and of the launcher and of people, ball by ball."""
    plan = coach.court.plan
    thrown = [ball for ball in lesson.balls if not ball.shown]
    assert len(lesson.balls) <= plan.bounds.most_balls
    each = Counter(ball.player for ball in thrown)
    for player, most in zip(plan.group.players, balls_of_each(plan), strict=True):
        assert each[player.name] <= most, player.name
    for launcher, profile in enumerate(coach.court.profiles, 1):
        left = [ball.left_utc_s for ball in lesson.balls if ball.launcher == launcher]
        gaps = [after - before for before, after in pairwise(left)]
        assert min(gaps) >= profile.limits.least_interval_s - 0.005
    for before, after in pairwise(thrown):
        if before.player is not None and before.station != after.station:
            assert before.player != after.player or after.left_utc_s - before.left_utc_s > 3.0


@pytest.mark.timeout(900)
@pytest.mark.parametrize(
    "name", [pytest.param(n, marks=[] if n in ALWAYS else [pytest.mark.long]) for n in STORIES]
)
def test_a_lesson_of_the_week_is_played_from_a_phone(name: str, tmp_path: Path) -> None:
    coach, lesson, took_s = played(name, tmp_path)
    assert coach.moves == [], "the story was told to its end"
    in_journal = {b.number: Tapped(b.player, b.result.value) for b in lesson.balls if b.result}
    assert in_journal == coach.results
    assert len(coach.results) >= 15
    assert coach.breaks == sum(
        isinstance(s, Collect) and bool(s.break_s) for s in coach.court.plan.steps
    )
    kept_the_bounds(coach, lesson)
    assert coach.ends_at_hour
    assert 0.0 <= took_s - coach.court.plan.planned_s <= LEFT_TO_PLAY_S
