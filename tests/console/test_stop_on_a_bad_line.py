"""STOP, and what is typed or asked, on a line that loses things or answers late."""

from __future__ import annotations

from pathlib import Path

import msgspec
import pytest
from anyio import fail_after, sleep
from playwright.async_api import Browser, Page, Route, WebSocketRoute, expect

from feedscript.console.access import Role
from feedscript.console.serve import Served, serve
from feedscript.session.operator.commands import (
    ChangeRoster,
    Command,
    MarkFeed,
    MarkLanding,
    RecordResult,
    RosterChange,
    SeenBy,
    SimpleCommand,
)
from feedscript.session.operator.phases import NOT_NOW, Act, Phase
from feedscript.session.operator.view import FedBall, LessonView
from tests.console.browser import PHONE, SCREEN, new_page
from tests.console.lesson import RememberingLesson
from tests.console.test_page import heard, in_control, with_record
from tests.session.operator.seen_views import at

pytestmark = pytest.mark.anyio

STOP, POWER_OFF = (SimpleCommand(act=act) for act in (Act.STOP, Act.EMERGENCY_STOP))
UNRECEIVED = "STOP was not received yet. Use the switch at the launcher."


class BadLine:
    """While it is ``dead`` all that goes up and comes down the page's socket is lost, and a stop's
    own request fails."""

    def __init__(self) -> None:
        self.dead = False
        self.deaf = False  # only what goes up is lost
        self.held: list[Route] | None = None  # requests for a stop that wait

    async def of(self, page: Page) -> None:
        await page.route_web_socket("**/live*", self._socket)
        await page.route("**/stop", self._stop)

    def _socket(self, down: WebSocketRoute) -> None:
        if self.dead:
            return  # opens, and says nothing
        up = down.connect_to_server()
        down.on_message(lambda said: None if self.dead or self.deaf else up.send(said))
        up.on_message(lambda said: None if self.dead else down.send(said))

    async def _stop(self, route: Route) -> None:
        if self.held is not None:
            self.held.append(route)
        elif self.dead:
            await route.abort()
        else:
            await route.continue_()


async def until(lesson: RememberingLesson, wanted: Command) -> None:
    with fail_after(10):
        while wanted not in [command for command, _ in lesson.told]:
            await sleep(0.02)


async def opened(browser: Browser, served: Served, role: Role, line: BadLine) -> Page:
    page = await new_page(browser, PHONE if role is Role.COACH else SCREEN, [])
    await line.of(page)
    if role is Role.COACH:
        return await in_control(page, served)
    await page.goto(served.pairing_link(role))
    await page.wait_for_selector("#phase:not(:text-is('…'))")
    return page


@pytest.mark.parametrize("role", [Role.COACH, Role.VIEWER])
async def test_a_stop_that_was_lost_with_its_line_is_told_and_sent_again(
    browser: Browser, role: Role
) -> None:
    """The line goes dead just before the tap: nothing on the page knows of it yet."""
    lesson, line = RememberingLesson(at(Phase.RUNNING)), BadLine()
    async with serve(lesson) as served:
        page = await opened(browser, served, role, line)
        line.dead = True
        await page.click("#stop")
        await expect(page.locator("#lost")).to_have_text(UNRECEIVED)
        assert STOP not in [command for command, _ in lesson.told]
        line.dead = False
        await until(lesson, STOP)
        await expect(page.locator("#lost")).to_be_hidden()


async def test_that_a_stop_was_not_received_is_told_until_it_is(browser: Browser) -> None:
    """Also when the laptop is heard again, and tells of something new meanwhile."""
    lesson, line = RememberingLesson(at(Phase.RUNNING)), BadLine()
    async with serve(lesson) as served:
        page = await opened(browser, served, Role.COACH, line)
        line.dead = True
        await page.click("#stop")
        await expect(page.locator("#lost")).to_have_text(UNRECEIVED)
        line.held, line.deaf, line.dead = [], True, False
        await expect(page.locator('[data-control="in"]')).to_be_enabled()  # heard again
        lesson.change()
        with fail_after(10):
            while not line.held:
                await sleep(0.02)
        await sleep(0.3)
        assert await page.inner_text("#lost") == UNRECEIVED
        assert len(line.held) == 1  # on its way again, once
        (on_its_way,), line.held = line.held, None
        await on_its_way.continue_()
        await until(lesson, STOP)
        await expect(page.locator("#lost")).to_be_hidden()


async def test_a_stop_that_fails_only_after_the_laptop_is_heard_again_is_sent_again(
    browser: Browser,
) -> None:
    lesson, line = RememberingLesson(at(Phase.RUNNING)), BadLine()
    async with serve(lesson) as served:
        page = await opened(browser, served, Role.COACH, line)
        line.dead, line.held = True, []
        await page.wait_for_selector("#lost:visible")
        await page.wait_for_timeout(3500)  # the old socket is given up
        await page.click("#stop")
        with fail_after(5):
            while not line.held:
                await sleep(0.02)
        line.dead = False
        await expect(page.locator("#lost")).to_be_hidden()
        lost, line.held = line.held, None
        await lost[0].abort()
        await until(lesson, STOP)


async def test_a_stop_does_not_take_the_place_of_the_power_that_was_to_go_off(
    browser: Browser,
) -> None:
    lesson, line = RememberingLesson(at(Phase.RUNNING)), BadLine()
    async with serve(lesson) as served:
        page = await opened(browser, served, Role.COACH, line)
        line.dead = True
        await page.click("#power-off")
        await expect(page.locator("#lost")).to_have_text(UNRECEIVED)
        line.held, line.dead = [], False
        await page.click("#stop")
        await until(lesson, STOP)
        for route in line.held:
            if "true" not in (route.request.post_data or ""):
                await route.continue_()
        line.held = None
        await until(lesson, POWER_OFF)


def fed(*balls: FedBall) -> LessonView:
    state = at(Phase.RUNNING)
    return msgspec.structs.replace(state, private=msgspec.structs.replace(state.private, fed=balls))


def ball(number: int) -> FedBall:
    return FedBall(feed_id=number, feed="deep", asked_m=(0.0, 8.0))


@pytest.mark.parametrize("way", ["eye", "tape"])
async def test_a_place_is_said_of_the_ball_that_was_asked_about(browser: Browser, way: str) -> None:
    """Another ball leaves while the place of the one before is being said."""
    lesson, trouble = RememberingLesson(fed(ball(3))), []
    async with serve(lesson) as served:
        page = await in_control(await new_page(browser, PHONE, trouble), served)
        await page.click(f"#measure-{way}")
        if way == "tape":
            await page.fill("#tape-along", "2")
        lesson.change(fed(ball(4), ball(3)))
        await sleep(0.5)
        if way == "tape":
            assert "Ball 3" in await page.inner_text("#measure-of")
            await page.fill("#tape-across", "1")
            await page.press("#tape-across", "Enter")
        else:
            assert "Ball 3" in await page.inner_text("#landing-of")
            await page.press("#landing-court", "Enter")
        (told,) = await heard(lesson, 1)
        assert isinstance(told, MarkFeed)
        assert (told.feed_id, told.seen_by) == (3, SeenBy(way))
        lesson.change()
        await expect(page.locator("#measure-of")).to_contain_text("Ball 4")
    assert trouble == []


async def test_a_name_stays_where_it_was_typed_until_the_lesson_has_taken_it(
    browser: Browser,
) -> None:
    lesson, trouble = RememberingLesson(at(Phase.RUNNING)), []
    lesson.refuses = NOT_NOW.report("not now", help="wait")
    async with serve(lesson) as served:
        page = await in_control(await new_page(browser, PHONE, trouble), served)
        await page.click("#more > summary")
        await page.fill("#new-name", "Dogwood")
        await page.check("#new-left")
        await page.click("#joins")
        await expect(page.locator("#trouble")).to_contain_text("Not now")
        assert await page.input_value("#new-name") == "Dogwood"
        lesson.refuses = None
        await page.click("#joins")
        told = await heard(lesson, 2)
        join = ChangeRoster(change=RosterChange.JOIN, player="Dogwood", left_handed=True)
        assert told == [join, join]
        state = lesson.view
        player = msgspec.structs.replace(state.players[0], name="Dogwood")
        lesson.change(msgspec.structs.replace(state, players=(*state.players, player)))
        await expect(page.locator("#new-name")).to_have_value("")
        await expect(page.locator("#new-left")).not_to_be_checked()
    assert trouble == []


async def test_the_copy_of_the_review_is_of_all_that_was_recorded(browser: Browser) -> None:
    """An answer that comes late is of less than one that came before it."""

    def seen(balls: int) -> LessonView:
        state = at(Phase.STOPPED)
        counts = tuple(msgspec.structs.replace(one, balls=balls) for one in state.private.counts)
        private = msgspec.structs.replace(state.private, counts=counts, review=True)
        return msgspec.structs.replace(state, private=private)

    lesson, held = RememberingLesson(seen(1)), list[Route]()
    page = await new_page(browser, PHONE, [])
    async with serve(lesson) as served:
        await page.route("**/review", lambda route: held.append(route))
        await in_control(page, served)
        lesson.change(seen(2))
        with fail_after(10):
            while len(held) < 2:
                await sleep(0.02)
        for route, words in ((held[1], "two balls"), (held[0], "one ball")):
            await route.fulfill(body=f"<h1>{words}</h1>", content_type="text/html")
            await sleep(0.3)
    await page.wait_for_selector("#review[download]")
    async with page.expect_download() as saving:
        await page.click("#review")
    assert "two balls" in Path(await (await saving.value).path()).read_text("utf-8")


async def touch(page: Page, x: float, y: float, times: int) -> None:
    """A finger, as the browser hears of it: its click comes after it was lifted."""
    line = await page.context.new_cdp_session(page)
    for _ in range(times):
        point = {"x": x, "y": y}
        await line.send("Input.dispatchTouchEvent", {"type": "touchStart", "touchPoints": [point]})
        await line.send("Input.dispatchTouchEvent", {"type": "touchEnd", "touchPoints": []})


@pytest.mark.parametrize("taps", [1, 2])
async def test_a_tap_on_the_picture_of_landings_is_none_on_the_pad(
    browser: Browser, taps: int
) -> None:
    lesson = RememberingLesson(with_record(at(Phase.RUNNING)))
    async with serve(lesson) as served:
        context = await browser.new_context(viewport=PHONE, has_touch=True, is_mobile=True)
        page = await in_control(await context.new_page(), served)
        button = await page.locator('[data-control="in"]').bounding_box()
        assert button is not None
        await page.tap("#where")
        await expect(page.locator("#landing")).to_be_visible()
        await sleep(0.5)  # a person looks where it came down
        place = (button["x"] + button["width"] / 2, button["y"] + button["height"] / 2)
        assert (
            await page.evaluate(
                "([x, y]) => document.elementFromPoint(x, y).closest('svg')?.id", place
            )
            == "landing-court"
        )
        await touch(page, *place, taps)
        await expect(page.locator("#landing")).to_be_hidden()
        await sleep(1)
        assert [type(command) for command, _ in lesson.told] == [MarkLanding]
        await page.tap('[data-control="in"]')
        (_, told) = await heard(lesson, 2)
        assert isinstance(told, RecordResult)
