"""The page in a real browser, in front of a lesson that only remembers what it was told."""

from __future__ import annotations

import json
import re
from pathlib import Path

import anyio
import axe_playwright_python
import msgspec
import pytest

from feedscript.console import socket
from feedscript.console.access import Role
from feedscript.console.serve import Served, serve
from feedscript.plan.model import Result
from feedscript.session.commands import ChangeRoster, Do, PlayedTone, TakeBack, TakeDown
from feedscript.session.state import Call, SetUpStep
from feedscript.session.states import Act, Phase
from tests.console.browser import PHONE, PHONE_ON_ITS_SIDE, SCREEN, chromium, new_page
from tests.console.lesson import RememberingLesson, a_state

AXE = Path(axe_playwright_python.__file__).with_name("axe.min.js")

pytestmark = pytest.mark.anyio


async def violations(page) -> list[str]:
    """What axe-core finds against WCAG 2.1, levels A and AA."""
    await page.evaluate(AXE.read_text("utf-8"))
    found = await page.evaluate("axe.run({runOnly: ['wcag2a', 'wcag2aa', 'wcag21a', 'wcag21aa']})")
    return [
        f"{item['id']}: {[node['html'][:90] for node in item['nodes']]}"
        for item in found["violations"]
    ]


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


async def test_every_tap_of_the_pad_is_what_it_says() -> None:
    lesson, trouble = RememberingLesson(), []
    async with serve(lesson) as served, chromium() as browser:
        page = await in_control(await new_page(browser, PHONE, trouble), served)
        for result in Result:
            await page.click(f'[data-result="{result.value}"]')
        await page.click("#undo")
        await page.click('[data-act="hold"]')
        await page.click("#tone")
        for key in ("ArrowUp", "ArrowDown", "ArrowLeft", "ArrowRight", "i", "u", "h"):
            await page.keyboard.press(key)
        await page.click("summary")
        await page.click('[aria-label="Ash rests"]')
        await page.click("#stop")
        await page.click("#power-off")
        with anyio.fail_after(5):
            while len(lesson.told) < 20:
                await anyio.sleep(0.05)
    told = [command for command, _ in lesson.told]
    assert [c.result for c in told[:5] if isinstance(c, TakeDown)] == list(Result)
    assert told[5:7] == [TakeBack(), Do(act=Act.HOLD)]
    assert isinstance(told[7], PlayedTone)
    keyed = [c.result for c in told[8:13] if isinstance(c, TakeDown)]
    assert keyed == [Result.LONG, Result.NET, Result.LEFT, Result.RIGHT, Result.IN]
    assert told[13:15] == [TakeBack(), Do(act=Act.HOLD)]
    assert isinstance(told[15], ChangeRoster)
    # A stop goes twice, over the socket and as a request: one of them always gets through.
    stops = [c.act for c in told[16:] if isinstance(c, Do)]
    assert sorted(stops) == [Act.EMERGENCY_STOP] * 2 + [Act.STOP] * 2
    assert trouble == []


async def test_stop_is_always_on_screen() -> None:
    """At every size and in every phase, however long the list and wherever the page is scrolled."""
    lesson, trouble = RememberingLesson(), []
    steps = tuple(
        SetUpStep(key=str(n), words=f"Look at this point, number {n}", confirmed=False)
        for n in range(12)
    )
    async with serve(lesson) as served, chromium() as browser:
        page = await new_page(browser, PHONE, trouble)
        await page.goto(served.pairing_link(Role.COACH))
        await page.wait_for_selector("#take:visible")
        for revision, phase in enumerate(Phase, start=10):
            lesson._state = msgspec.structs.replace(
                a_state(), revision=revision, phase=phase, set_up=steps
            )
            lesson.change()
            for size in (PHONE, PHONE_ON_ITS_SIDE, {"width": 320, "height": 568}):
                await page.set_viewport_size(size)
                assert await stop_is_on_screen(page), (phase, size)
                await page.evaluate(
                    "document.querySelector('.look').scrollTo(0, 1e6); scrollTo(0, 1e6)"
                )
                assert await stop_is_on_screen(page), (phase, size)
    assert trouble == []


async def test_the_pad_does_not_move_when_a_call_comes() -> None:
    lesson, trouble = RememberingLesson(), []
    async with serve(lesson) as served, chromium() as browser:
        page = await in_control(await new_page(browser, PHONE, trouble), served)
        before = await page.locator('[data-result="in"]').bounding_box()
        state = lesson._state
        lesson._state = msgspec.structs.replace(
            state,
            calls=(Call(number=1, text="Rotate: Birch on court", utc_s=state.utc_s),),
            waits_for="A long sentence that tells a person what to do now, over two lines.",
        )
        lesson.change()
        await page.wait_for_selector("#call:has-text('Birch')")
        assert await page.locator('[data-result="in"]').bounding_box() == before


async def test_the_page_says_that_the_laptop_is_gone_and_keeps_the_stop() -> None:
    lesson, trouble = RememberingLesson(), []
    async with chromium() as browser:
        page = await new_page(browser, PHONE, trouble)
        async with serve(lesson) as served:
            await in_control(page, served)
            assert await page.locator("#lost").is_hidden()
        await page.wait_for_selector("#lost:visible", timeout=1500)
        assert "No link to the laptop" in await page.inner_text("#lost")
        assert await page.locator('[data-result="in"]').is_disabled()
        assert await page.locator("#stop").is_enabled()


async def test_silence_is_noticed_within_a_second(monkeypatch: pytest.MonkeyPatch) -> None:
    """The line stays open and nothing comes; the page's own clock says how long it took."""
    lesson, trouble = RememberingLesson(), []
    async with serve(lesson) as served, chromium() as browser:
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


async def test_the_group_sees_no_private_word_and_can_only_stop() -> None:
    lesson, trouble = RememberingLesson(), []
    heard: list[str] = []
    async with serve(lesson) as served, chromium() as browser:
        page = await new_page(browser, SCREEN, trouble)
        page.on("websocket", lambda ws: ws.on("framereceived", lambda f: heard.append(str(f))))
        await page.goto(served.pairing_link(Role.VIEWER))
        await page.wait_for_selector("#next-up:has-text('Birch')")
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


async def test_pages_are_accessible() -> None:
    lesson, trouble = RememberingLesson(), []
    steps = (SetUpStep(key="level", words="The launcher stands level", confirmed=False),)
    async with serve(lesson) as served, chromium() as browser:
        page = await new_page(browser, PHONE, trouble)
        await page.goto(served.url)
        assert await violations(page) == []
        await in_control(page, served)
        await page.click("summary")
        await page.click("#pair-viewer")
        await page.wait_for_selector("#codes b")
        assert await violations(page) == []
        lesson._state = msgspec.structs.replace(
            a_state(), phase=Phase.SETTING_UP, set_up=steps, waits_for="Look the launcher over."
        )
        lesson._state = msgspec.structs.replace(lesson._state, revision=99)
        lesson.change()
        await page.wait_for_selector("#steps button")
        assert await violations(page) == []
        other = await new_page(browser, SCREEN, trouble)
        await other.goto(served.pairing_link(Role.VIEWER))
        await other.wait_for_selector("#next-up:has-text('Birch')")
        assert await violations(other) == []
    assert trouble == []


async def test_a_second_device_pairs_by_the_code_that_the_first_one_shows() -> None:
    lesson, trouble = RememberingLesson(), []
    async with serve(lesson) as served, chromium() as browser:
        page = await in_control(await new_page(browser, PHONE, trouble), served)
        await page.click("summary")
        await page.click("#pair-viewer")
        code = await page.inner_text("#codes b")
        assert re.fullmatch(r"[2-9A-HJ-NP-Z]{8}", code)
        other = await new_page(browser, SCREEN, trouble)
        await other.goto(served.url)
        await other.fill("#code", code)
        await other.click("button[type=submit]")
        await other.wait_for_selector("#next-up:has-text('Birch')")
        again = await new_page(browser, SCREEN, trouble)
        await again.goto(served.url)
        await again.fill("#code", code)
        await again.click("button[type=submit]")
        await again.wait_for_selector("#told:has-text('not valid')")
    assert json.dumps(trouble).count("403") == len(trouble)  # the browser notes the refused code
