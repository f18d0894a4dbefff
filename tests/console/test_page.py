"""The page in a real browser, in front of a lesson that only remembers what it was told."""

from __future__ import annotations

import json
import re
from pathlib import Path

import anyio
import msgspec
import pytest
from playwright.async_api import Browser, expect

from feedscript.console import socket
from feedscript.console.access import Role
from feedscript.console.listening import Certificate, listen
from feedscript.console.serve import Served, serve
from feedscript.plan.model import Result
from feedscript.session.operator.commands import (
    ChangeRoster,
    Command,
    MarkLanding,
    PlayedTone,
    RecordResult,
    RosterChange,
    SimpleCommand,
    ToExercise,
    UndoResult,
)
from feedscript.session.operator.phase_words import PHASES, without_link
from feedscript.session.operator.phases import NOT_NOW, Act, Phase
from feedscript.session.operator.stands import STANDS
from feedscript.session.operator.view import Call, Landing, LessonView, Presence, SetUpStep
from tests.console.accessible import violations
from tests.console.browser import (
    PHONE,
    PHONE_ON_ITS_SIDE,
    SCREEN,
    SMALL,
    TOO_SMALL,
    TOO_WIDE,
    new_page,
)
from tests.console.court_picture import seen_at, stand_at
from tests.console.lesson import RememberingLesson
from tests.session.operator.seen_views import NOW, a_ball, aiming, at, in_exercise, stopping

#: Phases that show something that no other shows.
LOOKED_AT = (
    Phase.SETTING_UP,
    Phase.SHOWING,
    Phase.JUDGING,
    Phase.RUNNING,
    Phase.HELD,
    Phase.COLLECTING,
    Phase.ASKING,
    Phase.STOPPED,
    Phase.FINISHED,
)
#: A tap is taken for what is asked only after it could be read (see court-side.js).
READ_S = 0.45

#: The words that stand above, left of, right of and below the middle of the pad.
WHERE_ON_THE_PAD = """() => {
  const box = (one) => one.getBoundingClientRect();
  const middle = box(document.querySelector('[data-control="in"]'));
  const [x, y] = [middle.x + middle.width / 2, middle.y + middle.height / 2];
  return [[0, -1], [-1, 0], [1, 0], [0, 1]].map(([right, down]) =>
    document.elementFromPoint(x + 1.1 * right * middle.width, y + 1.2 * down * middle.height)
      .textContent);
}"""

pytestmark = pytest.mark.anyio


def with_record(state: LessonView, *landings: Landing) -> LessonView:
    """The same with ball 7 recorded last, and landings marked."""
    private = msgspec.structs.replace(
        state.private, last_record=a_ball(7, Result.NET), landings=landings
    )
    return msgspec.structs.replace(state, private=private)


async def in_control(page, served: Served):
    await page.goto(served.pairing_link(Role.COACH))
    await page.wait_for_selector("#take:visible")
    await page.click("#take")
    await page.wait_for_selector("#take", state="hidden")
    return page


async def stop_is_on_screen(page) -> bool:
    """Whether the whole STOP lies in the window and nothing covers its middle."""
    return await page.evaluate(
        """() => {
          const box = document.getElementById("stop").getBoundingClientRect();
          const over = document.elementFromPoint(box.x + box.width / 2, box.y + box.height / 2);
          return box.top >= 0 && box.left >= 0 && box.bottom <= innerHeight
            && box.right <= innerWidth && box.height >= 44 && over.id === "stop";
        }"""
    )


async def heard(lesson: RememberingLesson, count: int) -> list[Command]:
    """What the lesson was told, as soon as it was told so much."""
    with anyio.fail_after(5):
        while len(lesson.told) < count:
            await anyio.sleep(0.02)
    return [command for command, _ in lesson.told]


async def test_every_tap_is_what_it_says(browser: Browser) -> None:
    lesson, trouble = RememberingLesson(aiming(at(Phase.RUNNING))), []
    async with serve(lesson) as served:
        page = await in_control(await new_page(browser, PHONE, trouble), served)
        await anyio.sleep(READ_S)
        for result in Result:
            await page.click(f'[data-control="{result.value}"]')
        await page.click('[data-control="undo"]')
        acts = (Act.HOLD, Act.AGAIN, Act.SKIP, Act.NEXT, Act.SLOWER, Act.FASTER)
        for act in acts:
            await page.click(f'[data-control="{act.value}"]')
        await page.click("#more > summary")
        await page.click("#tone")
        await page.select_option('[aria-label="Player number 1"]', Presence.SITS_OUT)
        await page.fill("#new-name", "  Dogwood ")
        await page.check("#new-left")
        await page.click("#joins")
        await page.click("#stop")
        await page.click("#power-off")
        told = await heard(lesson, len(Result) + len(acts) + 8)
    assert [c.result for c in told[:6] if isinstance(c, RecordResult)] == list(Result)
    assert told[6:13] == [UndoResult(), *(SimpleCommand(act=act) for act in acts)]
    assert isinstance(told[13], PlayedTone)
    assert told[14] == ChangeRoster(change=RosterChange.REST, player="Player number 1")
    assert told[15] == ChangeRoster(change=RosterChange.JOIN, player="Dogwood", left_handed=True)
    # A stop goes twice, over the socket and as a request: one of them always gets through.
    stops = [c.act for c in told[16:] if isinstance(c, SimpleCommand)]
    assert sorted(stops) == [Act.EMERGENCY_STOP] * 2 + [Act.STOP] * 2
    assert trouble == []


async def test_the_page_takes_every_key_that_the_view_names(browser: Browser) -> None:
    """A keyboard, or a clicker that acts as one; the terminal looks keys up in the same list."""
    view = at(Phase.RUNNING)
    keys = {key: control for control in view.controls for key in control.keys}
    assert {"PageDown", "PageUp", "b", " ", "Escape", "8", "ArrowUp"} <= set(keys)
    stops = (SimpleCommand(act=Act.STOP), SimpleCommand(act=Act.EMERGENCY_STOP))
    wanted = [one.command for one in keys.values() if one.can_be_done or one.at_once]
    refused = [one for one in keys.values() if one.why_not and not one.at_once]
    lesson, trouble = RememberingLesson(view), []
    async with serve(lesson) as served:
        page = await in_control(await new_page(browser, PHONE, trouble), served)
        await anyio.sleep(READ_S)
        for key in keys:
            await page.keyboard.press(key)
            await anyio.sleep(0.03)
        await page.keyboard.press("Control+s")  # a browser's own
        told = await heard(lesson, len(wanted) + sum(one in stops for one in wanted))
        assert refused[-1].why_not in await page.inner_text("#trouble")
    assert [c for c in told if c not in stops] == [c for c in wanted if c not in stops]
    # A stop goes twice, over the socket and as a request; two keys stop, one takes the power off.
    assert [told.count(stop) for stop in stops] == [4, 2]
    assert trouble == []


async def test_a_tap_meant_for_the_question_before_does_nothing(browser: Browser) -> None:
    """`The speed is right` gives way to `Go on`: the second tap of a double one starts no ball."""
    lesson, trouble = RememberingLesson(at(Phase.JUDGING)), []
    async with serve(lesson) as served:
        page = await in_control(await new_page(browser, PHONE, trouble), served)
        await anyio.sleep(READ_S)
        await page.click('[data-control="seen"]')
        await heard(lesson, 1)
        lesson.change(at(Phase.READY))
        await page.wait_for_selector('[data-control="go-on"]:enabled')
        await page.click('[data-control="go-on"]')
        await page.keyboard.press("Enter")
        await page.wait_for_selector("#trouble:has-text('before this could be read')")
        await anyio.sleep(READ_S)
        assert lesson.told == [(SimpleCommand(act=Act.SEEN), "phone")]
        await page.keyboard.press("Enter")
        assert (await heard(lesson, 2))[1] == SimpleCommand(act=Act.GO_ON)
    assert trouble == []


@pytest.mark.parametrize("phase", [Phase.STOPPED, Phase.HELD])
async def test_no_screen_says_stopped_before_the_launcher_did(
    browser: Browser, phase: Phase
) -> None:
    """What was said of the phase is gone too, on the coach's page and on the group's screen."""
    lesson, trouble = RememberingLesson(stopping(phase)), []
    async with serve(lesson) as served:
        page = await in_control(await new_page(browser, PHONE, trouble), served)
        group = await new_page(browser, SCREEN, trouble)
        await group.goto(served.pairing_link(Role.VIEWER))
        await group.wait_for_selector("#call:has-text('Stopping')")
        assert await page.inner_text("#phase") == "Stopping"
        assert "press its own emergency stop" in await page.inner_text("#waits")
        for shown in (await page.inner_text("body"), await group.inner_text("body")):
            assert not re.search("Stopped|Held", shown), shown
        assert await stop_is_on_screen(page)
        lesson.change(at(phase))
        await page.wait_for_selector(f"#phase:has-text('{PHASES[phase].name}')")
        assert "emergency stop" not in await page.inner_text("#waits")
    assert trouble == []


async def test_a_break_counts_down_for_coach_and_group_until_it_is_over(browser: Browser) -> None:
    state = msgspec.structs.replace(at(Phase.COLLECTING), break_s=95.0)
    lesson, trouble = RememberingLesson(state), []
    left = "Number(/1:([0-9]+)/.exec(document.getElementById('break').innerText)[1])"
    async with serve(lesson) as served:
        page = await in_control(await new_page(browser, PHONE, trouble), served)
        group = await new_page(browser, SCREEN, trouble)
        await group.goto(served.pairing_link(Role.VIEWER))
        for screen in (page, group):
            await screen.wait_for_selector("#break:has-text('Break: 1:')")
            await screen.wait_for_function(f"before => {left} < before", arg=36)
        lesson.change(msgspec.structs.replace(state, break_s=0.0))
        for screen in (page, group):
            await screen.wait_for_selector("#break:text-is('The break is over')")
        lesson.change(at(Phase.RUNNING))
        for screen in (page, group):
            await screen.wait_for_selector("#break:empty", state="attached")
    assert trouble == []


async def test_the_exercise_that_is_on_stays_on_both_screens(browser: Browser) -> None:
    lesson, trouble = RememberingLesson(in_exercise(at(Phase.RUNNING))), []
    async with serve(lesson) as served:
        page = await in_control(await new_page(browser, PHONE, trouble), served)
        group = await new_page(browser, SCREEN, trouble)
        await group.goto(served.pairing_link(Role.VIEWER))
        for screen in (page, group):
            await screen.wait_for_selector("#exercise-title:text-is('2 of 5: Depth, crosscourt')")
            said = await screen.inner_text("#exercise")
            assert "Aim: past the service line" in said
            assert "Watch: height over the net" in said
        await page.click("#ways > summary")
        await expect(page.locator("#harder")).to_be_in_viewport(ratio=1)
        assert await page.inner_text("#easier") == "Easier: from inside the baseline"
        assert await page.inner_text("#harder") == "Harder: past the cones"
        lesson.change(at(Phase.RUNNING))
        for screen in (page, group):
            await screen.wait_for_selector("#exercise", state="hidden")
    assert trouble == []


async def test_the_coach_goes_to_an_exercise_by_buttons_and_keys(browser: Browser) -> None:
    lesson, trouble = RememberingLesson(in_exercise(at(Phase.RUNNING))), []
    async with serve(lesson) as served:
        page = await in_control(await new_page(browser, PHONE, trouble), served)
        await page.click("button:text-is('Exercise again')")
        await page.keyboard.press("d")
        await page.click("#more > summary")
        assert await page.is_disabled("button:has-text('Go to 1: Warm-up')")
        await page.click("button:has-text('Go to 2: Depth, crosscourt')")
        await page.wait_for_timeout(200)
        assert await stop_is_on_screen(page)
        lesson.change(at(Phase.RUNNING))
        await page.wait_for_selector("button:text-is('Exercise again')", state="hidden")
    assert [command for command, _ in lesson.told] == [
        SimpleCommand(act=Act.EXERCISE_AGAIN),
        SimpleCommand(act=Act.SKIP_EXERCISE),
        ToExercise(number=2),
    ]
    assert trouble == []


async def test_a_hold_counts_down_and_a_notice_goes_with_its_cause(browser: Browser) -> None:
    """The page's own clock goes on between two states."""
    state = msgspec.structs.replace(at(Phase.HELD), hold_s=58.0)
    lesson, trouble = RememberingLesson(state), []
    left = "Number(/0:([0-9]+)/.exec(document.getElementById('hold-ends').innerText)[1])"
    async with serve(lesson) as served:
        page = await in_control(await new_page(browser, PHONE, trouble), served)
        await page.wait_for_selector("#hold-ends:not(.soon):has-text('Becomes a stop in 0:')")
        seconds = await page.evaluate(left)
        await page.wait_for_function(f"before => {left} < before", arg=seconds)
        assert "Jam" in await page.inner_text("#trouble")
        lesson.change(msgspec.structs.replace(state, hold_s=12.0))
        await page.wait_for_selector("#hold-ends.soon:has-text('Becomes a stop in 0:')")
        assert await stop_is_on_screen(page)
        (jam,) = state.troubles
        over = msgspec.structs.replace(jam, until_utc_s=NOW - 10.0)
        lesson.change(msgspec.structs.replace(at(Phase.HELD), troubles=(over,), pace_percent=125))
        await page.wait_for_selector("#pace:has-text('pace 125 %')")
        assert await page.inner_text("#trouble") == ""
        assert await page.inner_text("#hold-ends") == ""
    assert trouble == []


@pytest.mark.parametrize("size", [PHONE, PHONE_ON_ITS_SIDE, SMALL], ids=str)
async def test_a_landing_is_tapped_where_it_was_seen(
    browser: Browser, size: dict[str, int]
) -> None:
    """Wherever the coach stands, a tap on a place of the court is that place, to 5 cm."""
    lesson, trouble = RememberingLesson(with_record(at(Phase.RUNNING))), []
    places = [(-4.115, -11.885), (1.5, -9.0), (3.2, -2.5)]
    async with serve(lesson) as served:
        page = await in_control(await new_page(browser, size, trouble), served)
        for stand in STANDS:
            await stand_at(page, stand.name)
            for place in places:
                already = len(lesson.told)
                await page.click("#court")
                assert "Ball 7: Net, Ash" in await page.inner_text("#landing-of")
                assert stand.label in await page.inner_text("#landing-from")
                assert await stop_is_on_screen(page)
                await page.mouse.click(*await seen_at(page, "#landing-court", stand.name, *place))
                *_, marked = await heard(lesson, already + 1)
                assert isinstance(marked, MarkLanding)
                assert marked.feed_id == 7
                assert marked.landing_m == pytest.approx(place, abs=0.05), stand
                await page.wait_for_selector("#landing", state="hidden")
    assert trouble == []


#: The court's box and that of what may be scrolled, in pixels.
COURT_AND_WORDS = """() => ["#court", ".look"].map((one) => {
  const box = document.querySelector(one).getBoundingClientRect();
  return [box.left, box.top, box.right, box.bottom];
})"""


@pytest.mark.parametrize(
    "size", [SMALL, PHONE, PHONE_ON_ITS_SIDE, {"width": 768, "height": 1024}, SCREEN], ids=str
)
async def test_the_whole_court_is_in_sight_as_the_coach_stands(
    browser: Browser, size: dict[str, int]
) -> None:
    """From an end it stands upright, from the side it lies as wide as there is room."""
    state = in_exercise(at(Phase.RUNNING))
    said = msgspec.structs.replace(state, said="Back to the middle after every single ball.")
    lesson, trouble = RememberingLesson(with_record(said)), []
    async with serve(lesson) as served:
        page = await in_control(await new_page(browser, size, trouble), served)
        for stand in STANDS:
            await stand_at(page, stand.name)
            assert await page.locator(".next-up").is_visible()
            if size is SMALL and stand.name == "side":
                continue  # there the names have the room, and the court is scrolled to
            court, look = await page.evaluate(COURT_AND_WORDS)
            assert court[0] >= look[0] - 1, stand.name
            assert court[1] >= look[1] - 1, stand.name
            assert court[2] <= look[2] + 1, stand.name
            assert court[3] <= look[3] + 1, stand.name
            across, down = court[2] - court[0], court[3] - court[1]
            if stand.name == "side":
                assert across >= 0.9 * (look[2] - look[0]) - 20
            else:
                assert down > 2 * across
                assert down >= min(120, 0.45 * (look[3] - look[1]))
    assert trouble == []


async def test_a_marked_landing_is_seen_by_the_coach_alone(browser: Browser) -> None:
    lesson, trouble = RememberingLesson(with_record(at(Phase.RUNNING))), []
    async with serve(lesson) as served:
        page = await in_control(await new_page(browser, PHONE, trouble), served)
        await page.wait_for_selector("#where:enabled")
        landing = Landing(feed_id=7, landing_m=(1.5, -9.0), result=Result.NET)
        lesson.change(with_record(at(Phase.RUNNING), landing))
        await page.wait_for_selector("#recorded:has-text('Landing marked')")
        assert await page.locator("#where").is_hidden()
        viewer = await new_page(browser, SCREEN, trouble)
        await viewer.goto(served.pairing_link(Role.VIEWER))
        await viewer.wait_for_selector(".next-up:has-text('Player number 2')")
        assert await viewer.locator("#court path").count() == 0
        assert await page.locator("#court path").count() == 1
        marked = await page.locator("#court path").bounding_box()
        assert marked is not None
        middle = (marked["x"] + marked["width"] / 2, marked["y"] + marked["height"] / 2)
        assert middle == pytest.approx(await seen_at(page, "#court", "player", 1.5, -9.0), abs=1.5)
    assert trouble == []


async def test_a_landing_is_marked_with_keys_alone(browser: Browser) -> None:
    """The cross begins 9 m past the net and moves as it is seen: up is long behind the player."""
    lesson, trouble = RememberingLesson(with_record(at(Phase.RUNNING))), []
    async with serve(lesson) as served:
        page = await in_control(await new_page(browser, PHONE, trouble), served)
        await page.focus("#where")
        await page.keyboard.press("Enter")
        for key in ("ArrowUp", "ArrowUp", "ArrowRight"):
            await page.keyboard.press(key)
        assert "9.5 m past the net" in await page.inner_text("#landing-at")
        await page.keyboard.press("Enter")
        (marked,) = await heard(lesson, 1)
        assert marked == MarkLanding(feed_id=7, landing_m=(-0.25, -9.5))
        await page.focus("#where")
        await page.keyboard.press("Enter")
        await page.keyboard.press("Tab")
        await page.keyboard.press("Enter")  # back, and nothing marked
        await page.wait_for_selector("#landing", state="hidden")
        await page.keyboard.press("s")
        stops = (await heard(lesson, 3))[1:]
        assert stops == [SimpleCommand(act=Act.STOP)] * 2
    assert trouble == []


async def test_the_pad_lies_as_the_court_is_seen_and_records_what_the_player_sees(
    browser: Browser,
) -> None:
    """Behind the launcher the player's left is at the right, and long comes nearer."""
    lesson, trouble = RememberingLesson(at(Phase.RUNNING)), []
    seen = {
        "player": ("Long", "Left", "Right", "Net"),
        "launcher": ("Net", "Player's right", "Player's left", "Long"),
        "side": ("Player's right", "Long", "Net", "Player's left"),
    }
    meant = {"Long": Result.LONG, "Net": Result.NET, "Left": Result.LEFT, "Right": Result.RIGHT}
    meant |= {"Player's left": Result.LEFT, "Player's right": Result.RIGHT}
    async with serve(lesson) as served:
        page = await in_control(await new_page(browser, PHONE, trouble), served)
        for stand, labels in seen.items():
            await stand_at(page, stand)
            found = await page.evaluate(WHERE_ON_THE_PAD)
            assert tuple(words.partition(" ")[2] for words in found) == labels
            for key, label in zip(("8", "4", "6", "ArrowDown"), labels, strict=True):
                already = len(lesson.told)
                await page.keyboard.press(key)
                assert (await heard(lesson, already + 1))[-1] == RecordResult(result=meant[label])
        await page.reload()  # the choice is remembered on the device
        await page.wait_for_selector('[data-control="in"]')
        assert (await page.evaluate(WHERE_ON_THE_PAD))[0].endswith("Player's right")
    assert trouble == []


async def test_a_refusal_can_be_read_though_the_lesson_goes_on(browser: Browser) -> None:
    lesson, trouble = RememberingLesson(at(Phase.RUNNING)), []
    lesson.refuses = NOT_NOW.report("this cannot be done now", help="wait a little")
    async with serve(lesson) as served:
        page = await in_control(await new_page(browser, PHONE, trouble), served)
        await page.click('[data-control="undo"]')
        await page.wait_for_selector("#trouble:has-text('This cannot be done now. Wait a little.')")
        for _ in range(3):
            lesson.change()
            await anyio.sleep(0.1)
        assert "This cannot be done now" in await page.inner_text("#trouble")
    assert trouble == []


async def test_control_cannot_be_tapped_for_before_the_laptop_is_heard(browser: Browser) -> None:
    """Such a tap went nowhere, and nothing on the screen said so."""
    async with serve(RememberingLesson(at(Phase.RUNNING))) as served:
        page = await new_page(browser, PHONE, [])
        await page.route_web_socket("**/live*", lambda _socket: None)  # opens, and says nothing
        await page.goto(served.pairing_link(Role.COACH))
        await page.wait_for_selector("#take:visible")
        assert await page.is_disabled("#take")


async def test_stop_is_always_on_screen(browser: Browser) -> None:
    """At every size and in every phase, however long the list and wherever the page is scrolled."""
    lesson, trouble = RememberingLesson(), []
    steps = tuple(
        SetUpStep(key=str(n), words=f"Look at this point, number {n}", confirmed=False)
        for n in range(12)
    )
    async with serve(lesson) as served:
        page = await new_page(browser, PHONE, trouble)
        await page.goto(served.pairing_link(Role.COACH))
        await page.wait_for_selector("#take:visible")
        for phase in Phase:
            lesson.change(msgspec.structs.replace(at(phase), set_up=steps))
            for size in (PHONE, PHONE_ON_ITS_SIDE, SMALL):
                await page.set_viewport_size(size)
                assert await stop_is_on_screen(page), (phase, size)
                await page.evaluate(
                    "document.querySelector('.look').scrollTo(0, 1e6); scrollTo(0, 1e6)"
                )
                assert await stop_is_on_screen(page), (phase, size)
    assert trouble == []


async def test_a_device_that_looks_on_is_told_why_no_step_can_be_confirmed(
    browser: Browser,
) -> None:
    lesson, trouble = RememberingLesson(), []
    steps = (SetUpStep(key="net", words="The net stands", confirmed=False),)
    lesson.change(msgspec.structs.replace(at(Phase.SETTING_UP), set_up=steps))
    async with serve(lesson) as served:
        page = await new_page(browser, PHONE, trouble)
        await page.goto(served.pairing_link(Role.COACH))
        await page.wait_for_selector("#steps button:disabled")
        assert "Take control" in await page.inner_text("#looks-on")
        await page.click("#take")
        await page.wait_for_selector("#steps button:enabled")
        assert await page.is_hidden("#looks-on")
    assert trouble == []


async def test_the_pad_does_not_move_when_a_call_comes(browser: Browser) -> None:
    lesson, trouble = RememberingLesson(), []
    async with serve(lesson) as served:
        page = await in_control(await new_page(browser, PHONE, trouble), served)
        before = await page.locator('[data-control="in"]').bounding_box()
        state = lesson.view
        called = msgspec.structs.replace(
            state,
            calls=(Call(number=1, text="Rotate: Birch on court", utc_s=state.utc_s),),
            waits_for="A long sentence that tells a person what to do now, over two lines.",
        )
        lesson.change(called)
        await page.wait_for_selector("#call:has-text('Birch')")
        assert await page.locator('[data-control="in"]').bounding_box() == before


async def test_the_page_says_that_the_laptop_is_gone_and_keeps_the_stop(browser: Browser) -> None:
    lesson, trouble = RememberingLesson(), []
    page = await new_page(browser, PHONE, trouble)
    async with serve(lesson) as served:
        await in_control(page, served)
        assert await page.locator("#lost").is_hidden()
    await page.wait_for_selector("#lost:visible", timeout=1500)
    assert "No link to the laptop" in await page.inner_text("#lost")
    assert await page.locator('[data-control="in"]').is_disabled()
    assert await page.locator("#stop").is_enabled()
    await page.click("#stop")
    await page.wait_for_selector("#lost:has-text('STOP was not received')", timeout=4000)


async def test_silence_is_noticed_within_a_second(
    browser: Browser, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The line stays open and nothing comes; the page's own clock says how long it took."""
    lesson, trouble = RememberingLesson(), []
    async with serve(lesson) as served:
        page = await in_control(await new_page(browser, PHONE, trouble), served)
        monkeypatch.setattr(socket, "HEARTBEAT_S", 1e6)
        since_heard_ms = await page.evaluate(
            """() => new Promise((done) => {
              const lost = document.getElementById("lost");
              const began = performance.now();
              const look = setInterval(() => {
                if (!lost.hidden) { clearInterval(look); done(performance.now() - began); }
              }, 5);
            })"""
        )
        assert since_heard_ms < 1300  # at most one sign of life (0.3 s) came after the start
        lesson.change()
        await page.wait_for_selector("#lost", state="hidden", timeout=3000)
    assert trouble == []


async def test_the_group_sees_no_private_word_and_can_only_stop(browser: Browser) -> None:
    lesson, trouble = RememberingLesson(), []
    heard: list[str] = []
    async with serve(lesson) as served:
        page = await new_page(browser, SCREEN, trouble)
        page.on("websocket", lambda ws: ws.on("framereceived", lambda f: heard.append(str(f))))
        await page.goto(served.pairing_link(Role.VIEWER))
        await page.wait_for_selector(".next-up:has-text('Birch')")
        assert await page.locator("button").count() == 1
        assert await stop_is_on_screen(page)
        assert "PRIVATE" not in await page.content()
        await page.click("#stop")
        with anyio.fail_after(3):
            while not lesson.told:
                await anyio.sleep(0.05)
    assert heard
    assert not [frame for frame in heard if "PRIVATE" in frame or '"counts"' in frame]
    assert trouble == []


async def test_pages_are_accessible(browser: Browser) -> None:
    """Each kind of phase, with all there may be on it; the drawer; pairing; the group's screen.

    Rules: Web Content Accessibility Guidelines 2.1, levels A and AA, as axe-core tests them.
    """
    lesson, trouble = RememberingLesson(), []
    async with serve(lesson) as served:
        page = await new_page(browser, PHONE, trouble)
        await page.goto(served.url)
        assert await violations(page) == {}
        await page.fill("#code", "WRONGWRO")
        await page.click("button[type=submit]")
        await page.wait_for_selector("#told:has-text('not valid')")
        assert await violations(page) == {}
        await in_control(page, served)
        other = await new_page(browser, SCREEN, trouble)
        await other.goto(served.pairing_link(Role.VIEWER))
        for phase in LOOKED_AT:
            lesson.change(with_record(at(phase)))
            await page.wait_for_selector(f"#phase:has-text('{PHASES[phase].name}')")
            assert await violations(page) == {}, phase
            if phase in (Phase.RUNNING, Phase.STOPPED):
                await other.wait_for_selector(f"#phase:has-text('{PHASES[phase].name}')")
                assert await violations(other) == {}, phase
        lesson.change(with_record(in_exercise(at(Phase.RUNNING))))
        await page.wait_for_selector("#exercise:visible")
        await page.click("#where")
        assert await violations(page) == {}
        await page.click("#landing-back")
        await page.click("#more > summary")
        await page.click("#pair-viewer")
        await page.wait_for_selector("#codes b")
        assert await violations(page) == {}
        await page.set_viewport_size(PHONE_ON_ITS_SIDE)
        assert await violations(page) == {}
        (launcher,) = lesson.view.launchers
        lost = msgspec.structs.replace(launcher, linked=False)
        no_link = without_link(["main"])
        lesson.change(
            msgspec.structs.replace(at(Phase.BROKEN_OFF), launchers=(lost,), no_link=no_link)
        )
        await page.wait_for_selector("#lost:has-text('No link to main')")
        assert await violations(page) == {}
    assert json.dumps(trouble).count("403") == len(trouble)  # the browser notes the refused code


async def test_calls_are_spoken_by_the_devices_own_voice_or_not(
    browser: Browser,
) -> None:
    """A voice that sends its words to a server elsewhere is never used."""
    lesson, trouble = RememberingLesson(), []
    async with serve(lesson) as served:
        page = await new_page(browser, PHONE, trouble)
        await page.add_init_script(
            """
            window.said = [];
            class Words { constructor(text) { this.text = text; } }
            window.SpeechSynthesisUtterance = Words;
            const voices = [
              { lang: "en-US", localService: false, name: "elsewhere" },
              { lang: "en-GB", localService: true, name: "own" },
            ];
            const speech = {
              getVoices: () => window.noVoice ? voices.slice(0, 1) : voices,
              speak: (words) => window.said.push([words.text, words.voice.name]),
              cancel: () => window.said.push(["cancelled", ""]),
            };
            Object.defineProperty(window, "speechSynthesis", { value: speech });
            """
        )
        await in_control(page, served)

        async def call(number: int, text: str) -> list[list[str]]:
            now = Call(number=number, text=text, utc_s=lesson.view.utc_s)
            lesson.change(msgspec.structs.replace(lesson.view, calls=(now,)))
            await page.wait_for_selector(f"#call:has-text('{text}')")
            return await page.evaluate("said.filter(([text]) => text.trim())")

        assert await call(1, "Ash is on") == [["Ash is on", "own"]]
        await page.evaluate("window.noVoice = true")
        assert len(await call(2, "Birch is on")) == 1  # shown, not spoken
        await page.evaluate("window.noVoice = false")
        await page.click("#more > summary")
        await page.click("#mute")
        assert [words for words, _ in await call(3, "Cedar is on")] == ["Ash is on", "cancelled"]
        await page.click("#mute")
        assert (await call(4, "Ash again"))[-1] == ["Ash again", "own"]
        lesson.change(msgspec.structs.replace(lesson.view, count_in_s=4.2))
        await page.wait_for_selector("#call:has-text('Ball in 5')")
    assert trouble == []


async def test_the_screen_is_kept_on_while_the_device_holds_control(browser: Browser) -> None:
    lesson, trouble = RememberingLesson(), []
    ask = "window.locks = 0; navigator.wakeLock.request = async () => { window.locks += 1; };"
    async with serve(lesson) as served:
        page = await new_page(browser, PHONE, trouble)
        await page.add_init_script(ask)
        await page.goto(served.pairing_link(Role.COACH))
        await page.wait_for_selector("#take:visible")
        assert await page.evaluate("window.locks") == 0
        await page.click("#take")
        await page.wait_for_function("() => window.locks === 1")
        await page.evaluate("document.dispatchEvent(new Event('visibilitychange'))")
        await page.wait_for_function("() => window.locks === 2")  # a lock is lost out of sight
        bare = await new_page(browser, PHONE, trouble)
        await bare.add_init_script("delete Navigator.prototype.wakeLock;")
        await bare.goto(served.pairing_link(Role.COACH))
        await bare.click("#more > summary")
        await bare.wait_for_selector("#awake:has-text('cannot keep the screen on')")
    assert trouble == []


async def test_over_https_the_cookie_stays_there_and_the_screen_on(
    browser: Browser, tmp_path: Path
) -> None:
    """With a certificate of our own making, which this browser is told to take."""
    files = Certificate(tmp_path / "certificate.pem", tmp_path / "key.pem")
    words = ["openssl", "req", "-x509", "-newkey", "ec", "-pkeyopt", "ec_paramgen_curve:P-256"]
    words += ["-nodes", "-subj", "/CN=127.0.0.1", "-days", "2", "-out", str(files.certificate)]
    await anyio.run_process([*words, "-keyout", str(files.key)])
    lesson = RememberingLesson()
    async with serve(lesson, listen(False, 0, files)) as served:
        assert served.url.startswith("https://")
        context = await browser.new_context(ignore_https_errors=True)
        page = await in_control(await context.new_page(), served)
        (cookie,) = await context.cookies()
        assert cookie["secure"]
        assert cookie["name"].startswith("__Host-")
        assert cookie["httpOnly"]
        assert await page.evaluate("'wakeLock' in navigator && isSecureContext")
        await page.click("#stop")
        assert (await heard(lesson, 2))[0] == SimpleCommand(act=Act.STOP)


async def test_nothing_is_asked_of_anybody_else(browser: Browser) -> None:
    """Every request of every page, as the browser makes it, goes to the console itself."""
    lesson, trouble = RememberingLesson(), []
    asked: list[str] = []
    async with serve(lesson) as served:
        for role in Role:
            page = await new_page(browser, PHONE, trouble)
            page.on("request", lambda request: asked.append(request.url))
            page.on("websocket", lambda line: asked.append(line.url.replace("ws:", "http:")))
            await page.goto(served.pairing_link(role))
            await page.wait_for_selector(".next-up:has-text('Birch')")
            if role is Role.COACH:
                await page.click("#take")
                await page.click("#more > summary")
                await page.click("#pair-viewer")
                await page.click("#tone")
                await page.click('[data-control="in"]')
            await page.click("#stop")
            await anyio.sleep(0.2)
            refused = await page.evaluate(
                "fetch('http://127.0.0.1:9/').then(() => 'let through', (e) => String(e))"
            )
            assert "Failed to fetch" in refused  # by the page's own policy
    foreign = {url for url in asked if not url.startswith((served.url, "data:"))}
    assert foreign <= {"http://127.0.0.1:9/"}
    assert len(asked) > 10
    assert [words for words in trouble if "Content Security Policy" in words]


async def test_a_device_that_the_laptop_no_longer_knows_must_pair(
    browser: Browser,
) -> None:
    lesson, trouble = RememberingLesson(), []
    page = await new_page(browser, PHONE, trouble)
    async with serve(lesson) as served:
        await in_control(page, served)
        port = int(served.url.rpartition(":")[2])
    await page.wait_for_selector("#lost:visible", timeout=1500)
    async with serve(lesson, listen(False, port)):
        await page.wait_for_selector("#pair", timeout=6000)


async def test_a_second_device_pairs_by_the_code_that_the_first_one_shows(browser: Browser) -> None:
    lesson, trouble = RememberingLesson(), []
    async with serve(lesson) as served:
        page = await in_control(await new_page(browser, PHONE, trouble), served)
        await page.click("#more > summary")
        await page.click("#pair-viewer")
        code = await page.inner_text("#codes b")
        assert re.fullmatch(r"[2-9A-HJ-NP-Z]{10}", code)
        other = await new_page(browser, SCREEN, trouble)
        await other.goto(served.url)
        await other.fill("#code", code)
        await other.click("button[type=submit]")
        await other.wait_for_selector(".next-up:has-text('Birch')")
        again = await new_page(browser, SCREEN, trouble)
        await again.goto(served.url)
        await again.fill("#code", code)
        await again.click("button[type=submit]")
        await again.wait_for_selector("#told:has-text('not valid')")
    assert json.dumps(trouble).count("403") == len(trouble)  # the browser notes the refused code


#: What must be read in bright sun: WCAG 2.2, success criterion 1.4.6 (level AAA), asks 7 to 1 of
#: text. The marks that say a thing is large are not used as an excuse.
IN_THE_SUN = ("#stop", ".on", ".next-up", "#balls", "#time", "#pace", "#call", "#waits", ".said")
CONTRAST = """(names) => {
  const channel = (c) => (c /= 255) <= 0.04045 ? c / 12.92 : ((c + 0.055) / 1.055) ** 2.4;
  const light = ([r, g, b]) => 0.2126 * channel(r) + 0.7152 * channel(g) + 0.0722 * channel(b);
  const colour = (words) => words.match(/[0-9.]+/g).map(Number);
  const behind = (one) => {
    for (let at = one; at; at = at.parentElement) {
      const found = colour(getComputedStyle(at).backgroundColor);
      if (found.length < 4 || found[3] > 0) return found;
    }
    return [255, 255, 255];
  };
  const seen = names.flatMap((name) => [...document.querySelectorAll(name)])
    .filter((one) => one.offsetParent && one.textContent);
  return seen.map((one) => {
    const [a, b] = [light(colour(getComputedStyle(one).color)), light(behind(one))];
    return [one.id || one.className, (Math.max(a, b) + 0.05) / (Math.min(a, b) + 0.05)];
  });
}"""


async def test_numbers_names_and_the_stop_are_read_in_bright_sun(browser: Browser) -> None:
    lesson, trouble = RememberingLesson(), []
    async with serve(lesson) as served:
        page = await in_control(await new_page(browser, PHONE, trouble), served)
        group = await new_page(browser, SCREEN, trouble)
        await group.goto(served.pairing_link(Role.VIEWER))
        for phase in (Phase.RUNNING, Phase.HELD, Phase.STOPPED):
            lesson.change(msgspec.structs.replace(at(phase), pace_percent=125))
            for screen in (page, group):
                await screen.wait_for_selector(f"#phase:has-text('{PHASES[phase].name}')")
                found = await screen.evaluate(CONTRAST, list(IN_THE_SUN))
                assert {"stop", "on", "balls", "time"} <= {name for name, _ in found}
                assert [one for one in found if one[1] < 7.0] == []
    assert trouble == []


async def test_nothing_is_cut_off_at_the_side_of_the_smallest_phone(browser: Browser) -> None:
    """320 px wide (WCAG 2.2, 1.4.10, reflow): in every phase, wherever the coach stands, the drawer
    open or not, nothing needs scrolling sideways and every button keeps 44 px."""
    lesson, trouble = RememberingLesson(), []
    async with serve(lesson) as served:
        page = await in_control(await new_page(browser, SMALL, trouble), served)
        for stand in STANDS:
            await stand_at(page, stand.name)
            for phase in LOOKED_AT:
                lesson.change(with_record(in_exercise(at(phase))))
                await page.wait_for_selector(f"#phase:has-text('{PHASES[phase].name}')")
                assert await page.evaluate(TOO_WIDE) == [], (phase, stand.name)
                assert await page.evaluate(TOO_SMALL) == [], (phase, stand.name)
                assert await stop_is_on_screen(page)
        await page.click("#more > summary")
        assert await page.evaluate(TOO_WIDE) == []
        assert await page.evaluate(TOO_SMALL) == []
    assert trouble == []


async def test_a_lesson_is_run_with_the_keyboard_alone(browser: Browser) -> None:
    """Everything that a finger reaches is reached with Tab, in the order in which it is seen."""
    lesson, trouble = RememberingLesson(with_record(in_exercise(at(Phase.RUNNING)))), []
    async with serve(lesson) as served:
        page = await new_page(browser, PHONE, trouble)
        await page.goto(served.pairing_link(Role.COACH))
        await page.wait_for_selector("#take:enabled")
        reached = await tabbed(page)
        assert "take" in reached
        await page.focus("#take")
        await page.keyboard.press("Enter")
        await page.wait_for_selector("#take", state="hidden")
        await page.focus("#more > summary")
        await page.keyboard.press("Enter")
        await page.wait_for_selector("#stand:visible")
        wanted = await page.evaluate(
            """() => [...document.querySelectorAll("button, select, input, summary")]
              .filter((one) => one.offsetParent && !one.disabled).length"""
        )
        reached = await tabbed(page)
        assert len(set(reached)) >= wanted
        places = [reached.index(name) for name in ("where", "stand", "hold", "in", "stop")]
        assert places == sorted(places)
    assert trouble == []


async def tabbed(page) -> list[str]:
    """What the focus comes to, Tab by Tab, from the beginning of the page."""
    await page.evaluate("document.activeElement.blur(); window.getSelection().removeAllRanges()")
    await page.evaluate("document.body.tabIndex = -1; document.body.focus()")
    reached: list[str] = []
    for _ in range(90):
        await page.keyboard.press("Tab")
        name = await page.evaluate(
            """() => { const one = document.activeElement;
              return one.dataset.control || one.id || one.getAttribute("aria-label")
                || one.tagName; }"""
        )
        if name == "BODY" or (reached and name == reached[0]):
            break
        reached.append(name)
    return reached
