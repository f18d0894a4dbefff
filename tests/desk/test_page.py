"""The desk in a real browser: words, picture and verdict as one."""

from __future__ import annotations

import re
from collections.abc import AsyncIterator
from pathlib import Path
from typing import NamedTuple

import anyio
import pytest
from playwright.async_api import BrowserContext, Page, Route, WebSocketRoute, expect

from feedscript.shipped import shipped_folder
from tests.console.accessible import violations
from tests.console.browser import chromium
from tests.desk.desk_process import desk_on

pytestmark = pytest.mark.anyio

DESK = {"width": 1280, "height": 800}
SIZES = (DESK, {"width": 1024, "height": 768}, {"width": 390, "height": 844})
DEEP = """feedscript 1
title "Deep"
court { surface hard }
balls { type 2  load 60 }
launcher { profile "garage.toml"  stands 1 m behind centre mark }
group { 4 players  level club }
feed deep {
    land 3 m inside baseline, on centre line
    speed 80 km/h
    spin top 900 rpm
}
feed wide = deep with { land 3 m inside baseline, 1 m inside ad sideline }
lesson {
    show speed of deep
    for each player { repeat 4 { send deep after 5 s }  rest 10 s }
}
"""


class Paired(NamedTuple):
    """A browser that the desk has let in."""

    context: BrowserContext
    address: str

    async def page(self, program: Path, trouble: list[str]) -> Page:
        """A tab with this program; what its scripts complain of is added to ``trouble``."""
        page = await self.context.new_page()
        page.on("pageerror", lambda error: trouble.append(str(error)))
        page.on("console", lambda said: trouble.append(said.text) if said.type == "error" else None)
        await page.goto(f"{self.address}#{program.stem}")
        await expect(page.locator("#verdict")).to_contain_text("it passes")
        return page


@pytest.fixture(scope="module")
def anyio_backend() -> str:
    return "asyncio"


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("coach")


@pytest.fixture(scope="module")
async def paired(anyio_backend: str, folder: Path) -> AsyncIterator[Paired]:
    """One desk for all, and a browser that has been let in."""
    async with chromium() as browser:
        with desk_on(folder) as link:
            context = await browser.new_context(viewport=DESK)  # type: ignore[arg-type]
            page = await context.new_page()
            await page.goto(link)
            await expect(page.locator("#verdict")).to_contain_text("it passes")
            yield Paired(context, link.split("#")[0])


@pytest.fixture
def program(folder: Path) -> Path:
    """A program of the test's own."""
    path = folder / f"deep-{len(list(folder.glob('*.feed')))}.feed"
    path.write_text(DEEP, "utf-8")
    return path


@pytest.fixture
async def desk(paired: Paired, program: Path) -> AsyncIterator[Page]:
    """A page with the program open and checked; nothing goes wrong in it unseen."""
    trouble: list[str] = []
    page = await paired.page(program, trouble)
    yield page
    await page.close()
    assert not trouble


_SELECT = """(old) => {
  const content = document.querySelector(".cm-content");
  const walker = document.createTreeWalker(content, NodeFilter.SHOW_TEXT);
  for (let node = walker.nextNode(); node; node = walker.nextNode()) {
    const at = node.textContent.indexOf(old);
    if (at < 0) continue;
    const range = document.createRange();
    range.setStart(node, at);
    range.setEnd(node, at + old.length);
    document.getSelection().removeAllRanges();
    document.getSelection().addRange(range);
    return;
  }
  throw new Error("not shown: " + old);
}"""


async def write(page: Page, old: str, new: str) -> None:
    """Type over a word, as a hand does."""
    await page.evaluate(_SELECT, old)
    await page.keyboard.type(new)


async def test_a_coach_writes_and_sees_what_becomes_of_it(desk: Page, program: Path) -> None:
    feeds = desk.locator("#feeds button")
    await expect(feeds).to_have_count(2)
    await desk.locator(".cm-content").click()
    await write(desk, "80", "200")
    await expect(desk.locator("#verdict")).to_contain_text("to mend before it may run")
    await expect(desk.locator("#findings")).to_contain_text("its launcher does")
    await expect(desk.locator("#kept")).to_have_text("saved")
    assert "speed 200 km/h" in program.read_text("utf-8")
    await desk.keyboard.press("Control+z")
    await expect(desk.locator("#verdict")).to_contain_text("it passes")
    await expect(desk.locator("#kept")).to_have_text("saved")
    assert program.read_text("utf-8") == DEEP


#: As the page comes from a desk that was started with --units imperial.
SET_IMPERIAL = """new MutationObserver(() => {
  if (document.body) document.body.dataset.units = "imperial";
}).observe(document, { childList: true, subtree: true });"""


async def test_figures_are_told_in_the_units_that_are_set(paired: Paired, program: Path) -> None:
    page = await paired.context.new_page()
    await page.add_init_script(SET_IMPERIAL)
    await page.goto(f"{paired.address}#{program.stem}")
    told = page.locator("#feeds button").first
    await expect(told).to_contain_text("50 mph")  # 80 km/h
    await expect(told).to_contain_text(re.compile(r"[\d.]+ ft over net"))
    await page.close()


async def test_what_is_pressed_stays_until_it_is_let_go(paired: Paired, program: Path) -> None:
    """A picture that comes between press and release takes no click away: it is drawn after it."""
    pictures: list[str | bytes] = []
    opened: list[WebSocketRoute] = []
    kept = False

    def keep_pictures(socket: WebSocketRoute) -> None:
        def down(message: str | bytes) -> None:
            if kept and "feedscript/seen" in str(message):
                pictures.append(message)
            else:
                socket.send(message)

        socket.connect_to_server().on_message(down)
        opened.append(socket)

    page = await paired.context.new_page()
    await page.route_web_socket("**/words/**", keep_pictures)
    await page.goto(f"{paired.address}#{program.stem}")
    first = page.locator("#feeds button").first
    await expect(first).to_contain_text("80 km/h")
    kept = True
    await page.locator(".cm-content").click()
    await write(page, "80", "85")
    with anyio.fail_after(30):
        while not any(re.search(r'"speed_kmh":8[45]\b', str(one)) for one in pictures):
            await anyio.sleep(0.02)
    box = await first.bounding_box()
    assert box is not None
    await page.mouse.move(box["x"] + box["width"] / 2, box["y"] + box["height"] / 2)
    await page.mouse.down()
    for one in pictures:
        opened[-1].send(one)
    await page.wait_for_timeout(300)
    await expect(first).to_contain_text("80 km/h")
    await page.mouse.up()
    await expect(first).to_contain_text("85 km/h")
    await expect(first).to_have_attribute("aria-pressed", "true")
    await page.close()


async def test_a_mistake_is_mended_by_a_click(desk: Page) -> None:
    await desk.locator(".cm-content").click()
    await write(desk, "km/h", "kmph")
    await expect(desk.locator(".finding.error")).to_contain_text("`kmph`")  # not of half a word
    await desk.get_by_role("button", name="Look for a fix").click()
    await desk.get_by_role("button", name="Write k").click()
    await expect(desk.locator("#verdict")).to_contain_text("it passes")


async def test_a_click_for_a_fix_is_not_lost_when_the_words_go_on(
    paired: Paired, program: Path
) -> None:
    """The first answer comes when the words are others already: it is asked again of those."""
    late: list[str | bytes] = []
    opened: list[WebSocketRoute] = []
    kept = False

    def keep_answers(socket: WebSocketRoute) -> None:
        socket.connect_to_server().on_message(
            lambda message: late.append(message) if kept else socket.send(message)
        )
        opened.append(socket)

    page = await paired.context.new_page()
    await page.route_web_socket("**/words/**", keep_answers)
    await page.goto(f"{paired.address}#{program.stem}")
    await expect(page.locator("#verdict")).to_contain_text("it passes")
    await page.locator(".cm-content").click()
    await write(page, "km/h", "kmph")
    await expect(page.locator(".finding.error")).to_contain_text("`kmph`")
    kept = True
    await page.get_by_role("button", name="Look for a fix").click()
    await expect(page.get_by_role("button", name="Trying")).to_be_disabled()
    await write(page, "Deep", "Deeper")
    kept = False
    for one in late:
        opened[-1].send(one)
    await page.get_by_role("button", name="Write k").click()
    await expect(page.locator("#verdict")).to_contain_text("it passes")
    await page.close()


async def test_what_mends_some_words_is_not_offered_for_others(desk: Page) -> None:
    await desk.locator(".cm-content").click()
    await write(desk, "km/h", "kmph")
    await expect(desk.locator(".finding.error")).to_contain_text("`kmph`")
    await desk.get_by_role("button", name="Look for a fix").click()
    await expect(desk.get_by_role("button", name="Write k")).to_have_count(1)
    await desk.locator(".finding.error").evaluate("(finding) => { finding.kept = true; }")
    await write(desk, "Deep", "Deeper")
    await expect(desk.get_by_role("button", name="Look for a fix")).to_have_count(1)
    await expect(desk.locator(".finding.error")).to_have_js_property("kept", True)


async def test_a_feed_stays_chosen_while_its_words_grow(desk: Page) -> None:
    chosen = desk.locator("#feeds button[aria-pressed=true]")
    await desk.locator(".cm-line", has_text="spin top 900 rpm").click()
    await expect(chosen).to_contain_text("deep")
    await desk.keyboard.press("End")
    await desk.keyboard.insert_text(
        "  # for those who like the ball that jumps up at their shoulders"
    )
    await expect(desk.locator("#kept")).to_have_text("saved")
    await expect(chosen).to_contain_text("deep")
    await desk.locator(".cm-line", has_text='title "Deep"').click()
    await desk.keyboard.press("End")
    await desk.keyboard.insert_text(" # " + "of a long title" * 5)  # the feed was there before
    await expect(desk.locator("#kept")).to_have_text("saved")
    await expect(chosen).to_have_count(0)


async def test_picture_and_words_point_at_each_other(desk: Page) -> None:
    await desk.locator("#feeds button", has_text="wide").click()
    await expect(desk.locator(".w-chosen").first).to_contain_text("feed")
    chosen = await desk.locator(".w-chosen").all_inner_texts()
    assert "".join(chosen).startswith("feed wide = deep with")
    await expect(desk.locator("#above .feed.chosen")).to_have_count(1)
    await desk.locator(".cm-line", has_text="land 3 m inside baseline, on centre line").click()
    await expect(desk.locator("#feeds button[aria-pressed=true]")).to_contain_text("deep")


_PARTS = "document.querySelectorAll('#above > *, #side > *, #feeds > *')"
_MARK = f"() => {_PARTS}.forEach((one) => {{ one.marked = true; }})"
_NEW = f"""() => [...{_PARTS}].filter((one) => !one.marked)
  .map((one) => one.dataset.key ?? one.parentElement.id + " " + one.textContent.slice(0, 4))"""
_DRAWN = "() => ['above', 'side', 'feeds'].map((one) => document.getElementById(one).innerHTML)"


async def test_only_the_feed_that_was_changed_is_drawn_again_and_all_is_as_if_it_were(
    desk: Page,
) -> None:
    wide = desk.locator("#above [data-key='feed 1']")
    await wide.focus()
    await desk.evaluate(_MARK)
    await desk.keyboard.press("Shift+ArrowLeft")
    await expect(desk.locator(".cm-line", has_text="feed wide")).to_contain_text("4 m inside")
    await expect(wide).not_to_have_js_property("marked", True)
    assert await desk.evaluate(_NEW) == ["feed 1", "side wide", "feeds Bwid"]
    await expect(desk.locator("#kept")).to_have_text("saved")
    drawn = await desk.evaluate(_DRAWN)
    await desk.reload()
    await expect(wide).to_have_count(1)
    assert await desk.evaluate(_DRAWN) == drawn


async def test_two_tabs_never_lose_each_others_words(
    desk: Page, paired: Paired, program: Path
) -> None:
    other = await paired.page(program, [])
    await other.locator(".cm-content").click()
    await write(other, "Deep", "Theirs")
    await expect(other.locator("#kept")).to_have_text("saved")
    await desk.locator(".cm-content").click()
    await write(desk, "900", "800")
    await expect(desk.locator("#clash")).to_be_visible()
    assert "Theirs" in program.read_text("utf-8")
    await expect(desk.locator("#merge")).to_contain_text("Theirs")
    await (
        desk.locator(".cm-deletedChunk", has_text='"Theirs"')
        .get_by_role("button", name="Take theirs")
        .press("Enter")
    )
    await desk.locator("#merge-save").click()
    await expect(desk.locator("#kept")).to_have_text("saved")
    words = program.read_text("utf-8")
    assert "Theirs" in words
    assert "top 800 rpm" in words


async def test_a_shipped_program_is_looked_at_and_copied(desk: Page, folder: Path) -> None:
    await desk.locator("#choose").click()
    await desk.locator("#shipped-list button", has_text="wednesday-six").click()
    copy = desk.get_by_role("button", name="Copy it, to change it")
    await expect(copy).to_be_visible()  # until then what is typed goes to the words before
    await desk.locator(".cm-content").click()
    await desk.keyboard.type("nothing")
    assert "nothing" not in await desk.locator(".cm-content").inner_text()
    await copy.click()
    await expect(desk.locator("#kept")).to_have_text("saved")
    words = (folder / "wednesday-six.feed").read_text("utf-8")
    assert words == (shipped_folder() / "wednesday-six.feed").read_text("utf-8")


async def until_held(held: list[Route]) -> None:
    with anyio.fail_after(10):
        while not held:
            await anyio.sleep(0.02)


async def test_words_written_while_another_program_is_on_its_way_are_kept(
    desk: Page, program: Path
) -> None:
    held: list[Route] = []
    await desk.route(re.compile("/programs/.*wednesday-six"), lambda route: held.append(route))
    await desk.locator("#choose").click()
    await desk.locator("#shipped-list button", has_text="wednesday-six").click()
    await until_held(held)
    await write(desk, "club", "learner")
    await held.pop().continue_()
    await until_held(held)  # asked again: what was written meanwhile is saved first
    assert "level learner" in program.read_text("utf-8")
    await held.pop().continue_()
    await expect(desk.get_by_role("button", name="Copy it, to change it")).to_be_visible()
    assert program.read_text("utf-8") == DEEP.replace("level club", "level learner")


async def test_a_program_that_cannot_be_saved_is_not_left(paired: Paired, program: Path) -> None:
    desk = await paired.page(program, [])  # the browser complains of the answers that do not come
    await desk.route(re.compile("/programs/deep"), lambda route: route.abort())
    await desk.locator(".cm-content").click()
    await write(desk, "club", "learner")
    await expect(desk.locator("#kept")).to_contain_text("not saved")
    await desk.locator("#choose").click()
    await desk.locator("#shipped-list button", has_text="wednesday-six").click()
    await expect(desk.locator("#kept")).to_contain_text("not saved")
    assert "level learner" in await desk.locator(".cm-content").inner_text()
    await desk.unroute_all()
    await expect(desk.locator("#kept")).to_have_text("saved")
    assert "level learner" in program.read_text("utf-8")
    await desk.close()


async def test_hostile_words_stay_words(desk: Page) -> None:
    evil = '<img src=x onerror="document.title=1"><script>document.title=2</script>'
    await desk.locator(".cm-content").click()
    await write(desk, "Deep", evil.replace('"', "'"))
    await write(desk, "wide", "w<b>")
    await expect(desk.locator("#findings .finding").first).to_be_visible()
    assert await desk.title() == "feedscript desk"
    assert await desk.locator("#findings img, #feeds img, .cm-tooltip script").count() == 0


@pytest.mark.parametrize("scheme", ["light", "dark"])
async def test_everybody_can_read_and_work_it(desk: Page, scheme: str) -> None:
    """Rules: Web Content Accessibility Guidelines 2.1, levels A and AA, as axe-core tests them."""
    await desk.emulate_media(color_scheme=scheme)  # type: ignore[arg-type]
    await desk.locator(".cm-content").click()
    await write(desk, "80", "200")
    await expect(desk.locator("#verdict")).to_contain_text("to mend before it may run")
    await expect(desk.locator(".finding").first).to_be_visible()
    for size in SIZES:
        await desk.set_viewport_size(size)  # type: ignore[arg-type]
        for tab in ("words", "court", "hour") if size["width"] < 700 else ("",):
            if tab:
                await desk.locator(f"#tab-{tab}").click()
            wide = await desk.evaluate("document.documentElement.scrollWidth - innerWidth")
            assert wide <= 0, (size, tab)
            assert not await violations(desk), (size, tab)


async def test_a_landing_is_dragged_and_its_words_follow(desk: Page, program: Path) -> None:
    mark = desk.locator("#above .feed[data-index='0'] .hit")
    box = await mark.bounding_box()
    assert box is not None
    x, y = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
    metre = await desk.evaluate("document.getElementById('above').getScreenCTM().a")
    await desk.mouse.move(x, y)
    await desk.mouse.down()
    await desk.mouse.move(x - 0.5 * metre, y, steps=4)
    await expect(desk.locator("#above .ghost")).to_be_visible()
    await desk.mouse.move(x - 1.2 * metre, y + 1.5 * metre, steps=4)
    await desk.mouse.up()
    await expect(desk.locator(".cm-content")).to_contain_text("4.2 m inside")
    await expect(desk.locator("#kept")).to_have_text("saved")
    words = program.read_text("utf-8")
    assert "land 4.2 m inside baseline, 1.5 m to ad of centre line" in words
    moved = "land 4.2 m inside baseline, 1.5 m to ad of centre line"
    assert words.replace(moved, "land 3 m inside baseline, on centre line") == DEEP
    await expect(desk.locator("#verdict")).to_contain_text("it passes")
    await desk.locator(".cm-content").click()
    await desk.keyboard.press("Control+z")
    await expect(desk.locator(".cm-content")).to_contain_text("on centre line")


async def test_a_derived_feed_keeps_its_own_words_and_keys_move_too(
    desk: Page, program: Path
) -> None:
    wide = desk.locator("#above .feed[data-index='1']")
    await wide.focus()
    await desk.keyboard.press("Shift+ArrowLeft")
    await expect(desk.locator(".cm-content")).to_contain_text("land 4 m inside baseline, 1 m")
    await expect(wide).to_be_focused()
    await expect(desk.locator("#kept")).to_have_text("saved")
    old = "wide = deep with { land 3 m"
    assert program.read_text("utf-8") == DEEP.replace(old, "wide = deep with { land 4 m")


async def test_from_nothing_to_a_lesson_that_passes_in_four_actions(
    desk: Page, folder: Path
) -> None:
    """With the answers that stand there: programs, the question, its stage, the lesson."""
    await desk.locator("#choose").click()
    await desk.locator("#first summary").click()
    await desk.locator("#first-who").select_option("club")
    await desk.get_by_role("button", name="Lay out a lesson").click()
    await expect(desk.locator("#title")).to_contain_text("first lesson", timeout=30_000)
    await expect(desk.locator("#programs")).to_be_hidden()
    await expect(desk.locator("#verdict")).to_contain_text("it passes")
    await expect(desk.locator(".cm-content")).to_contain_text("warm_up.warm_up(")
    made = sorted(path.name for path in folder.glob("first lesson*.feed"))
    assert made[0] == "first lesson.feed"


async def test_who_has_no_program_yet_is_asked_what_the_lesson_is_for(tmp_path: Path) -> None:
    """And a program that is begun there instead needs nothing to be mended."""
    async with chromium() as browser:
        with desk_on(tmp_path) as link:
            page = await browser.new_page()
            await page.goto(link)
            await expect(page.locator("#first[open]")).to_be_visible()
            await expect(page.locator("#first-theme option")).not_to_have_count(0)
            await page.locator("#make").click()
            await expect(page.locator("#title")).to_have_text("new lesson")
            await expect(page.locator("#verdict")).to_have_text("it passes: up to 25 balls")
            await page.reload()
            await expect(page.locator("#title")).to_have_text("new lesson")
            await expect(page.locator("#programs")).to_be_hidden()


async def test_the_question_is_answered_by_keys_and_refused_in_words(
    desk: Page, folder: Path
) -> None:
    long_title = DEEP.replace('"Deep"', f'"{"long" * 12}"')
    (folder / "long-title.feed").write_text(long_title, "utf-8")
    await desk.set_viewport_size(SIZES[-1])  # type: ignore[arg-type]
    await desk.locator("#choose").click()
    await expect(desk.locator("#programs")).to_be_visible()  # what is not shown takes no focus
    await desk.locator("#first summary").focus()
    await desk.keyboard.press("Enter")
    await expect(desk.locator("#first-theme option")).not_to_have_count(0)
    await desk.locator("#first-theme").select_option("coordination")
    await desk.locator("#first-who").select_option("touring")
    assert not await violations(desk)
    assert await desk.evaluate("document.documentElement.scrollWidth - innerWidth") <= 0
    box = await desk.locator("#programs").evaluate("(one) => one.scrollWidth - one.clientWidth")
    assert box <= 0
    await desk.locator("#first-names").fill("Ada, Ben <b>")
    await desk.keyboard.press("Enter")
    await expect(desk.locator("#first-trouble")).to_contain_text("choose another theme")
    await expect(desk.locator("#programs")).to_be_visible()


async def test_what_there_is_to_choose_from_is_offered_once_and_waited_for(desk: Page) -> None:
    """However often the question is opened before it has come; no lesson is asked for before."""
    asked: list[Route] = []
    await desk.route("**/first-lesson", lambda route: asked.append(route))
    await desk.locator("#choose").click()
    for opened in (True, False, True):
        await desk.locator("#first").evaluate("(one, opened) => { one.open = opened; }", opened)
        await desk.evaluate("new Promise((done) => requestAnimationFrame(done))")
    await expect(desk.locator("#first-make")).to_be_disabled()
    (question,) = asked
    await question.continue_()
    await expect(desk.locator("#first-make")).to_be_enabled()
    needs = await desk.locator("#first-has label").all_inner_texts()
    assert needs
    assert len(set(needs)) == len(needs)


async def test_keys_that_come_faster_than_the_words_lose_no_step(desk: Page, program: Path) -> None:
    """A key held down: thirty steps of a decimetre before the first of them is written."""
    await desk.locator("#above .feed[data-index='0']").focus()
    for _ in range(3):
        await desk.evaluate("""() => {
          for (let step = 0; step < 10; step += 1) {
            const key = { key: "ArrowLeft", bubbles: true, cancelable: true };
            document.activeElement.dispatchEvent(new KeyboardEvent("keydown", key));
          }
        }""")
    await expect(desk.locator(".cm-content")).to_contain_text("land 6 m inside baseline, on centre")
    await desk.keyboard.press("ArrowRight")
    await expect(desk.locator(".cm-content")).to_contain_text("land 5.9 m inside baseline, on")


async def test_the_head_leaves_the_page_to_the_program(desk: Page) -> None:
    """What is done with a program stands in one row; with its name and the verdict in three."""
    for size in SIZES:
        await desk.set_viewport_size(size)  # type: ignore[arg-type]
        rows = await desk.evaluate("""() => new Set(
          [...document.querySelectorAll("nav button")].map((one) => one.offsetTop)).size""")
        head = await desk.evaluate("document.querySelector('header').offsetHeight")
        assert rows == 1, size
        assert head <= (130 if size["width"] < 700 else 70), size


async def test_what_cannot_be_read_is_not_drawn_and_the_page_says_so(
    desk: Page, folder: Path
) -> None:
    """Least of all what was open before it."""
    assert await desk.locator("#above .feed").count() == 2
    (folder / "scrap.feed").write_text("feedscript 1\nlesson {\n", "utf-8")
    await desk.locator("#choose").click()
    await desk.locator("#own-list button", has_text="scrap").click()
    await expect(desk.locator("#verdict")).to_contain_text("to mend")
    await expect(desk.locator("#unseen")).to_be_visible()
    await expect(desk.locator(".views")).to_be_hidden()
    await expect(desk.locator("#hour .nothing")).to_be_visible()
    assert await desk.locator("#above .feed, #feeds button").count() == 0
    await desk.locator("#earlier").click()
    await expect(desk.locator("#no-versions")).to_be_visible()


async def test_what_stands_below_the_sliders_stays_when_they_come(desk: Page) -> None:
    await expect(desk.locator("#play button").first).to_be_visible()
    await desk.evaluate("""() => {
      window.tops = new Set();
      const note = () => {
        const chosen = document.querySelector("#feeds [aria-pressed=true]");
        if (chosen) window.tops.add(document.getElementById("play").offsetTop);
        requestAnimationFrame(note);
      };
      note();
    }""")
    await desk.locator("#feeds button", has_text="deep").first.click()
    await expect(desk.locator("#sliders .band .allowed").first).to_be_attached()
    assert len(await desk.evaluate("[...window.tops]")) == 1


async def test_what_cannot_be_opened_is_not_opened_first_and_a_season_is_judged(
    paired: Paired, program: Path, folder: Path
) -> None:
    """Which files those are, the list says."""
    (folder / "!no name.feed").write_text(DEEP, "utf-8")
    (folder / ".hidden.feed").write_bytes(b"")
    (folder / "aa no text.feed").write_bytes(b"\xff\xfe")
    desk = await paired.page(program, [])
    await desk.evaluate("localStorage.removeItem('feedscript.desk.open')")
    await desk.goto("about:blank")
    await desk.goto(paired.address)
    await expect(desk.locator("#verdict")).to_contain_text("it passes")
    await desk.locator("#choose").click()
    await expect(desk.locator("#own-list button:disabled")).to_contain_text("call the file otherwi")
    await desk.locator("#shipped-list button", has_text="season ").first.click()
    await expect(desk.locator("#verdict.ok")).to_contain_text("the season and its programs pass")
    await expect(desk.locator("#of-season")).to_be_visible()
    await expect(desk.locator("#to-court")).to_be_disabled()
    await desk.close()
