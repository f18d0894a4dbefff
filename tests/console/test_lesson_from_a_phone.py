"""A whole lesson driven from the page: real engine, real driver, real stand-in, real browser."""

from __future__ import annotations

import json
import signal
import time
from collections import Counter
from contextlib import asynccontextmanager
from pathlib import Path

import anyio
import pytest

from feedscript.check.check_program import check_program
from feedscript.console.access import Role
from feedscript.console.review_page import review_page
from feedscript.console.serve import serve
from feedscript.journal.store import open_journal
from feedscript.review.report.lesson import read_lesson
from feedscript.session.engine.connect import Links, connect_lesson
from feedscript.session.engine.engine import LATE_TAPS_S
from feedscript.session.engine.start import Setting
from feedscript.session.operator.phases import Phase
from feedscript.session.operator.stands import STANDS
from feedscript.tongues.tongue import Tongue
from tests.console.browser import PHONE, PHONE_ON_ITS_SIDE, SCREEN, chromium, new_page
from tests.console.court_picture import seen_at, stand_at
from tests.simulator.stand_in_process import stand_in

pytestmark = [pytest.mark.anyio, pytest.mark.real_time]

PROGRAM = """feedscript 1
title "From a phone (invented)"
court    {{ surface hard }}
balls    {{ type 2   load 80 }}
launcher {{ stands 1 m behind centre mark }}
group    {{ players "Ash", "Birch", "Cedar"  stage yellow  level club }}
feed deep {{ land 3 m inside baseline, 1.5 m inside ad sideline   speed 80 km/h   within 1 m }}
lesson {{
    show speed of deep
    for each player {{
        say "Back to the middle."
        repeat {times} {{ send deep after 2 s }}
        rest 4 s
    }}
}}
"""
#: Where shots are marked, metres to the ad side and from the net: one from each place to stand.
LANDINGS = ((1.5, -9.0), (-3.2, -11.885), (4.115, -2.5))
RESULTS = ("in", "in", "long", "in", "net", "left", "in", "right")


@asynccontextmanager
async def running(text: str, journal_path: Path, url: str = "sim:"):
    """The lesson, running on the stand-in, and the console in front of it."""
    verdict = check_program(Path("phone.feed"), text=text)
    assert verdict.plan is not None, [d.message for d in verdict.diagnostics]
    journal = open_journal(journal_path)
    setting = Setting(source="phone.feed", rehearsal=True, wall_utc_s=time.time())
    number: list[int] = []

    def review(tongue: Tongue) -> str:
        return review_page(str(journal_path), number[0], tongue)

    try:
        async with (
            connect_lesson(
                verdict.plan, verdict.profiles, Links(urls=(url,)), journal, setting
            ) as engine,
            serve(engine, review=review) as served,
            anyio.create_task_group() as group,
        ):
            number.append(engine.lesson.session_id)
            group.start_soon(engine.run, LATE_TAPS_S)
            try:
                yield engine, served
            finally:
                group.cancel_scope.cancel()
    finally:
        journal.close()


async def phase(engine, *wanted: Phase, within_s: float = 30.0) -> None:
    with anyio.fail_after(within_s):
        while engine.view.phase not in wanted:
            await anyio.sleep(0.02)


async def set_up_and_go(page, engine) -> None:
    """What a coach taps, in the order in which the page asks for it."""
    await page.click("#take")
    await page.wait_for_selector("#steps button")
    while await page.locator('#steps button[aria-pressed="false"]').count():
        left = await page.locator('#steps button[aria-pressed="false"]').count()
        await page.locator('#steps button[aria-pressed="false"]').first.click()
        await page.wait_for_function(
            "n => document.querySelectorAll('#steps button[aria-pressed=\"false\"]').length < n",
            arg=left,
        )
    # Armed meanwhile by the stand-in's simulated person, who is no part of the page.
    for act in ("clear", "seen", "go-on"):
        await page.wait_for_selector(f'[data-control="{act}"]:enabled')
        await read()
        await page.click(f'[data-control="{act}"]')
    await phase(engine, Phase.RUNNING)


async def read() -> None:
    """A person reads what is asked before tapping; the page takes nothing sooner."""
    await anyio.sleep(0.45)


async def tap_results(page, engine, count: int, picture: Path | None = None) -> list[str]:
    """Tap a result for each ball as it can be seen, until ``count`` are recorded."""
    tapped: list[str] = []
    while len(tapped) < count:
        done = await recorded(page)
        result = RESULTS[len(tapped) % len(RESULTS)]
        with anyio.fail_after(20):
            while await recorded(page) == done:
                await page.click(f'[data-control="{result}"]')
                await anyio.sleep(0.4)
        tapped.append(result)
        if picture is not None and len(tapped) == count // 2:
            await page.screenshot(path=picture)
    assert engine.view.phase in (Phase.RUNNING, Phase.DISARMING, Phase.FINISHED)
    return tapped


async def recorded(page) -> int:
    """How many results the page itself shows as recorded."""
    return int(await page.get_attribute("#recorded", "data-count"))


async def rotate_the_players(page, group, engine) -> None:
    """Next: the player on turn leaves the series, the next one is on, and everyone sees it."""
    before = await page.inner_text(".on")
    following = engine.view.stations[0].next_up
    await read()
    await page.click('[data-control="next"]')
    await page.wait_for_selector(f".on:has-text('{following}')", timeout=15_000)
    await group.wait_for_selector(f".on:has-text('{following}')", timeout=2_000)
    assert following != before


async def mark_landings(page, engine) -> None:
    """The last record's landing, from each place to stand: each is tapped where it is seen."""
    for place, stand in zip(LANDINGS, STANDS, strict=True):
        await stand_at(page, stand.name)
        marks = len(engine.view.private.landings)
        await page.click("#court")
        await page.mouse.click(*await seen_at(page, "#landing-court", stand.name, *place))
        with anyio.fail_after(5):
            while len(engine.view.private.landings) == marks or not near(
                engine.view.private.landings[0].landing_m, place
            ):
                await anyio.sleep(0.02)
                marks = -1
    await stand_at(page, STANDS[0].name)


def near(found: tuple[float, float], wanted: tuple[float, float]) -> bool:
    """Within 5 cm along either axis."""
    return max(abs(a - b) for a, b in zip(found, wanted, strict=True)) <= 0.05


async def turn_the_phone_on_its_side(page, folder: Path) -> None:
    """Everything that a hand needs is on screen, and the next taps go on."""
    await page.set_viewport_size(PHONE_ON_ITS_SIDE)
    for wanted in ("stop", "emergency-stop", "undo", "in", "hold"):
        box = await page.locator(f'[data-control="{wanted}"]').bounding_box()
        assert box is not None
        assert box["x"] >= 0
        assert box["y"] >= 0
        assert box["x"] + box["width"] <= PHONE_ON_ITS_SIDE["width"]
        assert box["y"] + box["height"] <= PHONE_ON_ITS_SIDE["height"]
        assert box["height"] >= 44
    await page.screenshot(path=folder / "on-its-side.png")


#: From the cut (the browser says it is offline) to the words on the page, by the page's own clock.
WATCH_FOR_LOST = """() => new Promise((done) => {
  const lost = document.getElementById("lost");
  addEventListener("offline", () => {
    const cut = performance.now();
    const look = setInterval(() => {
      if (!lost.hidden) { clearInterval(look); done(performance.now() - cut); }
    }, 5);
  }, { once: true });
})"""


async def lose_the_link_and_come_back(page, engine, folder: Path) -> None:
    """The phone's network is cut, not the page closed; the lesson goes on and is found again."""
    noticed_ms: list[float] = []

    async def watch() -> None:
        noticed_ms.append(await page.evaluate(WATCH_FOR_LOST))

    async with anyio.create_task_group() as tasks:
        tasks.start_soon(watch)
        await anyio.sleep(0.3)
        await page.context.set_offline(True)
    assert noticed_ms[0] < 1000
    assert "No link to the laptop" in await page.inner_text("#lost")
    assert await page.locator('[data-control="in"]').is_disabled()
    await page.screenshot(path=folder / "lost.png")
    assert await page.locator("#stop").is_enabled()
    assert engine.view.phase is Phase.RUNNING
    await page.context.set_offline(False)
    await page.wait_for_selector("#lost", state="hidden", timeout=6_000)
    await page.wait_for_selector('[data-control="in"]:enabled')
    assert await page.locator("#take").is_hidden()  # it holds control still


async def read_the_review(page, viewer, records: int) -> None:
    """The stopped lesson's, opened from the laptop; once the lesson is closed, the page's own copy,
    for the laptop may be gone. The group's screen gets none."""
    await page.wait_for_selector("#review:visible")
    async with page.context.expect_page() as opened:
        await page.click("#review")
    report = await opened.value
    await report.wait_for_selector("h1")
    said = await report.inner_text("body")
    assert "From a phone (invented)" in said
    assert "Ash" in said
    assert f"{records} recorded" in said
    refused = await viewer.context.request.get(report.url)
    assert refused.status == 403
    await report.close()
    await read()
    await page.click('[data-control="quit"]')
    await page.wait_for_selector('#review[href^="blob:"][download]')


async def private_words(*pages) -> list[str]:
    """What a screen of the group shows of records or questions."""
    shown = [await page.inner_text("body") for page in pages]
    return [word for text in shown for word in ("recorded", "Ask", " %", "?") if word in text]


async def conduct(times: int, taps: int, tmp_path: Path) -> None:
    journal_path = tmp_path / "journal.sqlite"
    trouble: list[str] = []
    async with (
        running(PROGRAM.format(times=times), journal_path) as (engine, served),
        chromium() as browser,
    ):
        page = await new_page(browser, PHONE, trouble)
        await page.goto(served.pairing_link(Role.COACH))
        viewer = await new_page(browser, SCREEN, trouble)
        await viewer.goto(served.pairing_link(Role.VIEWER))
        group = await new_page(browser, SCREEN, trouble)
        await group.goto(served.pairing_link(Role.VIEWER))
        await group.wait_for_selector(".next-up")
        await group.goto(f"{served.url}/group")
        await set_up_and_go(page, engine)
        tapped = await tap_results(page, engine, taps // 2, tmp_path / "phone.png")
        await viewer.screenshot(path=tmp_path / "group.png")

        await mark_landings(page, engine)
        await anyio.sleep(0.5)  # a tap at once would be the second of two on the picture
        await page.click('[data-control="undo"]')
        taken_back = tapped.pop()
        await page.click('[data-control="hold"]')
        await phase(engine, Phase.HELD)
        left = engine.view.balls_left
        await anyio.sleep(2.5)
        assert engine.view.balls_left == left  # nothing leaves while held
        await page.click('[data-control="go-on"]')
        await phase(engine, Phase.RUNNING)

        await rotate_the_players(page, group, engine)
        await turn_the_phone_on_its_side(page, tmp_path)
        await lose_the_link_and_come_back(page, engine, tmp_path)
        tapped += await tap_results(page, engine, taps - len(tapped))
        assert not await private_words(viewer, group)
        assert await page.locator("#review").is_hidden()
        await page.screenshot(path=tmp_path / "later.png")
        await page.click("#stop")
        await phase(engine, Phase.STOPPED)
        await group.wait_for_selector("#call:has-text('Stopped. Stay where you are.')")
        await read_the_review(page, viewer, len(tapped))
    journal = open_journal(journal_path)
    lesson = read_lesson(journal)
    acts = [row["data"] for row in journal.rows("SELECT data FROM entry WHERE kind = 'act'")]
    marked = journal.rows("SELECT data FROM entry WHERE kind = 'landing' ORDER BY id")
    journal.close()
    places = [tuple(json.loads(row["data"])["landing_m"]) for row in marked]
    assert all(near(found, wanted) for found, wanted in zip(places, LANDINGS, strict=True)), places
    made = Counter(ball.result.value for ball in lesson.balls if ball.result)
    assert made.total() == len(tapped)
    assert made == Counter(tapped)
    assert taken_back
    assert [act for act in acts if '"next"' in act and '"phone"' in act]
    assert {ball.player for ball in lesson.balls if ball.result} <= {"Ash", "Birch", "Cedar"}
    # What the browser itself says of the cut network, and nothing else.
    assert [words for words in trouble if "ERR_INTERNET_DISCONNECTED" not in words] == []


@pytest.mark.timeout(150)
async def test_a_short_lesson_is_driven_from_the_page(tmp_path: Path) -> None:
    await conduct(times=9, taps=8, tmp_path=tmp_path)


@pytest.mark.long
@pytest.mark.timeout(400)
async def test_forty_results_are_tapped_in_a_whole_lesson(tmp_path: Path) -> None:
    await conduct(times=26, taps=40, tmp_path=tmp_path)


@pytest.mark.parametrize("end", [signal.SIGKILL, signal.SIGSTOP], ids=["closed", "silent"])
def test_the_page_says_that_the_launcher_is_gone(end: signal.Signals, tmp_path: Path) -> None:
    """A line that closes is known at once, a silent one after the wire's own time; from there on
    the page has its second."""
    trouble: list[str] = []
    took_s: list[float] = []

    async def look(launcher, address: str) -> None:
        async with (
            running(PROGRAM.format(times=9), tmp_path / "j.sqlite", address) as (engine, served),
            chromium() as browser,
        ):
            page = await new_page(browser, PHONE, trouble)
            await page.goto(served.pairing_link(Role.COACH))
            await page.wait_for_selector("#steps button")
            assert await page.locator("#lost").is_hidden()
            launcher.send_signal(end)
            with anyio.fail_after(6):
                while engine.view.launchers[0].linked:
                    await anyio.sleep(0.005)
            known_s = anyio.current_time()
            await page.wait_for_selector("#lost:has-text('No link to')", timeout=5_000)
            took_s.append(anyio.current_time() - known_s)
            assert "laptop" not in await page.inner_text("#lost")
            await page.screenshot(path=tmp_path / "launcher-lost.png")

    with stand_in("--pty") as (launcher, _, address):
        try:
            anyio.run(look, launcher, address)
        finally:
            launcher.send_signal(signal.SIGCONT)
    assert took_s[0] < 1.0
    assert trouble == []
