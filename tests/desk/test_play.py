"""The lesson as a moving picture, in a real browser whose clock the test winds."""

from __future__ import annotations

import math
from collections.abc import AsyncIterator
from itertools import product
from pathlib import Path

import numpy as np
import pytest
from playwright.async_api import BrowserContext, Page, expect

from tests.console.accessible import violations
from tests.console.browser import chromium
from tests.desk.desk_process import desk_on

pytestmark = pytest.mark.anyio

WIDE, PHONE = {"width": 1280, "height": 800}, {"width": 390, "height": 844}
#: Balls leave at 0 (its speed is watched), 5, 10, 16 (Ash) and, after a collect, 21 and 26.
TWO = """feedscript 1
court { surface hard }
balls { type 2  load 60 }
launcher { profile "garage.toml"  stands 1 m behind centre mark }
group { 1 player  level club }
feed deep { land 3 m inside baseline, on centre line  speed 80 km/h }
feed wide = deep with { land 3 m inside baseline, 1 m inside ad sideline }
lesson {
    show speed of deep
    exercise "Depth" { send deep after 5 s  send wide after 5 s  send deep after 6 s }
    collect
    exercise "Again" { send wide after 5 s  send deep after 5 s }
}
"""
#: ITF Rules of Tennis, 1: a court is 78 feet long and 27 feet wide for singles.
HALF_LENGTH_M, HALF_WIDTH_M = 39 * 0.3048, 13.5 * 0.3048
DEEP_M, WIDE_M = (0.0, HALF_LENGTH_M - 3), (HALF_WIDTH_M - 1, HALF_LENGTH_M - 3)
#: A ball that lies on the ground has its centre a radius above it.
RADIUS_M = 0.0335


@pytest.fixture(scope="module")
def anyio_backend() -> str:
    return "asyncio"


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("coach")


@pytest.fixture(scope="module")
async def paired(anyio_backend: str, folder: Path) -> AsyncIterator[tuple[BrowserContext, str]]:
    async with chromium() as browser:
        with desk_on(folder) as link:
            context = await browser.new_context(viewport=WIDE)  # type: ignore[arg-type]
            page = await context.new_page()
            await page.goto(link)
            await expect(page.locator("#verdict")).to_contain_text("it passes")
            await page.close()
            yield context, link.split("#")[0]


@pytest.fixture
async def desk(paired: tuple[BrowserContext, str], folder: Path) -> AsyncIterator[Page]:
    """A page with the program open, its clock standing still, the lesson about to begin."""
    context, address = paired
    (folder / "two.feed").write_text(TWO, "utf-8")
    page = await context.new_page()
    trouble: list[str] = []
    page.on("pageerror", lambda error: trouble.append(str(error)))
    page.on("console", lambda said: trouble.append(said.text) if said.type == "error" else None)
    await page.clock.install(time=0)
    await page.goto(f"{address}#two")
    await expect(page.locator("#verdict")).to_contain_text("it passes")
    await page.clock.pause_at(3_600_000)
    yield page
    await page.close()
    assert not trouble


async def begin(desk: Page, *, scattered: bool = False) -> None:
    await desk.get_by_role("button", name="Play the lesson").click()
    await expect(desk.get_by_role("button", name="Pause")).to_be_focused()
    if not scattered:  # every ball as it is aimed, to be held to the feed's own place
        await desk.get_by_label("scatter").evaluate("(box) => box.click()")


async def balls(desk: Page) -> list[tuple[str, float, float, float]]:
    """Each ball in the picture: its number, and x, y from above and height from the side."""
    found = await desk.evaluate(
        """() => [...document.querySelectorAll("#above .ball")].map((ball) => {
          const aside = document.querySelector(`#side .ball[data-ball="${ball.dataset.ball}"]`);
          return [ball.dataset.ball, +ball.getAttribute("cy"), +ball.getAttribute("cx"),
            -aside.getAttribute("cy")];
        })"""
    )
    return [tuple(one) for one in found]


async def the_ball(desk: Page) -> tuple[str, float, float, float]:
    found = await balls(desk)
    assert len(found) == 1, found
    return found[0]


#: What the page itself was told of the run.
RUN = """async () => {
  const { headers } = await import("/static/page_key.js");
  return (await fetch("/played/two", { headers: headers() })).json();
}"""


async def lands_s(desk: Page, ball: int) -> float:
    """When it lands, as the server says of the run."""
    run = await desk.evaluate(RUN)
    at_s, feed, *_ = run["balls"][ball - 1]
    return at_s + next(one["flight_s"] for one in run["feeds"] if one["index"] == feed)


async def test_a_ball_lies_where_its_feed_lands_when_it_lands(desk: Page) -> None:
    await begin(desk)
    assert (await the_ball(desk))[2] == pytest.approx(-12.885, abs=0.02)  # at the mouth
    await desk.clock.run_for(5_016)
    assert (await the_ball(desk))[0] == "2"
    landing_s = await lands_s(desk, 3)
    await desk.clock.run_for(round(landing_s * 1000) - 5_016)
    number, x_m, y_m, height_m = await the_ball(desk)
    # A picture is at most a frame late, and the ball runs on at some 14 m/s.
    assert (number, x_m) == ("3", pytest.approx(WIDE_M[0], abs=0.1))
    assert y_m == pytest.approx(WIDE_M[1], abs=0.3)
    assert height_m == pytest.approx(RADIUS_M, abs=0.15)
    await desk.get_by_role("button", name="Pause").click()
    still = await balls(desk)
    await desk.clock.run_for(3_000)
    assert await balls(desk) == still
    await expect(desk.locator(".play-clock")).to_contain_text("0:11 of")


async def test_balls_scatter_as_stated_and_their_landings_stay_marked(desk: Page) -> None:
    await begin(desk, scattered=True)
    landings = []
    for number in range(1, 5):
        await desk.keyboard.press("ArrowRight")
        landings.append((await the_ball(desk))[1:3])
        await expect(desk.locator("#above .dot")).to_have_count(number - 1)  # one is watched
    dots = await desk.evaluate(
        "[...document.querySelectorAll('#above .dot')].map((d) => "
        "[+d.getAttribute('cy'), +d.getAttribute('cx')])"
    )
    assert dots == [pytest.approx(one, abs=2e-3) for one in landings[1:]]
    deep = [landings[1], landings[3]]
    assert all(0 < math.dist(one, DEEP_M) < 1.5 for one in deep)
    assert deep[0] != deep[1]
    await expect(desk.locator("#above .strays")).to_have_count(2)
    await desk.get_by_label("scatter").uncheck()
    await expect(desk.locator("#above .dot, #above .strays")).to_have_count(0)
    assert (await the_ball(desk))[1:3] == pytest.approx(DEEP_M, abs=2e-3)


async def test_strays_are_normal_about_the_landing(desk: Page) -> None:
    """20,000 of them against the covariance that the ellipse means, and Rayleigh's share."""
    found = await desk.evaluate(
        """async () => {
          const { strayOf } = await import("/desk/strays.js");
          return Array.from({ length: 20000 }, (_, n) => strayOf(n + 1, [0.8, 0.3, 25]));
        }"""
    )
    drawn = np.array(found)
    c, s = np.cos(np.radians(25)), np.sin(np.radians(25))
    turn = np.array([[c, -s], [s, c]])
    wanted = turn @ np.diag([0.8**2, 0.3**2]) @ turn.T
    assert np.cov(drawn.T) == pytest.approx(wanted, abs=0.01)
    assert drawn.mean(axis=0) == pytest.approx([0, 0], abs=0.01)
    far = np.sqrt(np.einsum("ni,ij,nj->n", drawn, np.linalg.inv(wanted), drawn))
    for sigmas in (0.5, 1, 2, 3):
        assert (far < sigmas).mean() == pytest.approx(1 - np.exp(-(sigmas**2) / 2), abs=0.01)


async def test_steps_and_the_bar_go_to_the_right_ball(desk: Page) -> None:
    await begin(desk)
    await desk.get_by_role("button", name="Next ball").click()
    for number, (x_m, y_m) in enumerate([DEEP_M, DEEP_M, WIDE_M, DEEP_M, WIDE_M, DEEP_M], 1):
        lies = (str(number), pytest.approx(x_m, abs=2e-3), pytest.approx(y_m, abs=2e-3))
        assert (await the_ball(desk))[:3] == lies
        assert (await the_ball(desk))[3] == pytest.approx(RADIUS_M, abs=1e-3)
        await expect(desk.locator(".play-said")).to_contain_text(f"Ball {number} of 6")
        await desk.keyboard.press("ArrowRight")
    await expect(desk.locator(".play-said")).to_have_text("That was the last ball.")
    await desk.keyboard.press("ArrowLeft")
    assert (await the_ball(desk))[0] == "5"
    bar = desk.get_by_label("Time in the lesson")
    await bar.fill("11")
    assert (await the_ball(desk))[0] == "3"
    await expect(bar).to_have_attribute("aria-valuetext", "0:11, 1. Depth: player 1 on · wide")
    await bar.fill("8")
    assert await balls(desk) == []
    await desk.keyboard.press("ArrowLeft")
    assert (await the_ball(desk))[0] == "2"


async def test_time_goes_as_fast_as_it_is_set_and_stands_for_people_only_in_words(
    desk: Page,
) -> None:
    await begin(desk)
    await desk.get_by_label("Speed", exact=True).select_option("10")
    await desk.clock.run_for(1_650)
    await expect(desk.locator(".play-clock")).to_contain_text("0:16 of")
    await expect(desk.locator(".play-now")).to_contain_text("The launcher is off: collect.")
    await expect(desk.locator(".play-said")).to_have_text("The launcher is off: collect.")
    await desk.clock.run_for(550)  # nobody is waited for
    assert (await the_ball(desk))[0] == "5"
    await desk.clock.run_for(2_000)
    await expect(desk.locator(".play-said")).to_have_text("The lesson is over.")
    await expect(desk.get_by_role("button", name="Play", exact=True)).to_be_visible()


async def test_other_words_are_another_lesson(desk: Page) -> None:
    await begin(desk)
    await desk.clock.run_for(500)
    await desk.locator(".cm-content").click()
    await desk.keyboard.type("# ")
    await expect(desk.locator(".play-said")).to_contain_text("The words changed")
    await expect(desk.get_by_role("button", name="Play the lesson")).to_be_visible()
    assert await balls(desk) == []


async def test_nothing_moves_that_is_not_seen(desk: Page) -> None:
    await begin(desk)
    await desk.evaluate(
        """() => {
          Object.defineProperty(document, "hidden", { configurable: true, get: () => window.away });
          window.away = true;
          document.dispatchEvent(new Event("visibilitychange"));
          const ask = window.requestAnimationFrame;
          window.frames = window.pictures = 0;
          window.requestAnimationFrame = (one) => { window.frames += 1; return ask(one); };
          new MutationObserver(() => { window.pictures += 1; }).observe(
            document.querySelector("#above .play-layer"), { childList: true });
        }"""
    )
    await desk.clock.run_for(60_000)
    frames, pictures = await desk.evaluate("[window.frames, window.pictures]")
    assert frames < 5, "a few are the editor's own; playing asks for 60 a second"
    assert pictures == 0
    await desk.evaluate(
        "window.away = false; document.dispatchEvent(new Event('visibilitychange'))"
    )
    await desk.clock.run_for(1_000)
    assert (await the_ball(desk))[0] == "1", "it goes on from where it was left"


async def test_who_wants_no_motion_is_shown_landings(desk: Page) -> None:
    await desk.emulate_media(reduced_motion="reduce")
    await begin(desk)
    await desk.clock.run_for(900)
    assert (await the_ball(desk))[2] == pytest.approx(-12.885, abs=0.02)
    await desk.clock.run_for(1_200)
    number, x_m, y_m, _ = await the_ball(desk)
    assert (number, x_m, y_m) == ("1", *(pytest.approx(axis, abs=2e-3) for axis in DEEP_M))
    await desk.clock.run_for(5_000)
    assert (await the_ball(desk))[0] == "2"
    assert await desk.locator("#above .landed").count() == 0


async def test_everybody_can_work_it(desk: Page) -> None:
    """Rules: Web Content Accessibility Guidelines 2.1, levels A and AA, as axe-core tests them."""
    await begin(desk)
    await desk.keyboard.press("ArrowRight")
    await desk.clock.resume()
    for scheme, size in product(("light", "dark"), (WIDE, PHONE)):
        await desk.emulate_media(color_scheme=scheme)  # type: ignore[arg-type]
        await desk.set_viewport_size(size)  # type: ignore[arg-type]
        if size is PHONE:
            await desk.locator("#tab-court").click()
        wide = await desk.evaluate("document.documentElement.scrollWidth - innerWidth")
        assert wide <= 0, size
        assert not await violations(desk, "#court"), (scheme, size)


async def test_trouble_is_tried_and_told(desk: Page) -> None:
    await desk.clock.resume()
    await desk.get_by_role("button", name="What if a ball jams?").click()
    tried = desk.locator("#tried")
    await expect(tried).to_contain_text("The lesson goes on after it", timeout=20_000)
    lines = await tried.locator("li").all_inner_texts()
    asked, stopped, armed, leaves = (
        next(index for index, line in enumerate(lines) if words in line)
        for words in ("a person is asked", "stopped", "arms the launcher", "leaves")
    )
    assert asked < stopped < armed < len(lines) - 1
    assert lines[-1].endswith("leaves"), "told until balls leave again"
    assert leaves < asked, "and from shortly before"
    await desk.locator(".cm-content").click()
    await desk.keyboard.type("# ")
    await expect(tried.locator("li")).to_have_count(0)
