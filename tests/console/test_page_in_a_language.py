"""The page comes in the language of its device; two may have two, in front of one lesson."""

from __future__ import annotations

import msgspec
import pytest
from playwright.async_api import Browser

from feedscript.console.access import Role
from feedscript.console.serve import serve
from feedscript.session.operator.phases import Phase
from tests.console.browser import PHONE, new_page
from tests.console.conftest import ORIGIN, Stage
from tests.console.lesson import RememberingLesson
from tests.console.test_page import in_control
from tests.session.operator.seen_views import at

pytestmark = pytest.mark.anyio


def page_of(stage: Stage, **headers: str) -> str:
    return stage.client.get("/", headers=headers).text


def test_the_page_comes_as_the_browser_asks(stage: Stage) -> None:
    stage.pair(Role.COACH)
    assert '<html lang="de">' in page_of(stage, **{"accept-language": "de-AT, en;q=0.5"})
    assert '<html lang="en">' in page_of(stage, **{"accept-language": "tlh"})
    assert "{{" not in page_of(stage)


def test_a_choice_goes_before_what_the_browser_asks(stage: Stage) -> None:
    stage.pair(Role.COACH)
    stage.client.cookies.set("feedscript_language", "fr")
    assert '<html lang="fr">' in page_of(stage, **{"accept-language": "de"})
    stage.client.cookies.set("feedscript_language", "../../etc/passwd")
    assert '<html lang="de">' in page_of(stage, **{"accept-language": "de"})


def test_a_refusal_and_the_review_come_in_the_same_language(stage: Stage) -> None:
    asked = {"Origin": ORIGIN, "accept-language": "de"}
    told = stage.client.post("/pair", json={"code": "WRONG"}, headers=asked).json()
    assert "Code" in told["refused"]["message"]
    stage.pair(Role.COACH)
    stage.lesson.change(_readable(stage.lesson.view))
    assert "REVIEW de" in stage.client.get("/review", headers={"accept-language": "de"}).text


def _readable(view):
    return msgspec.structs.replace(view, private=msgspec.structs.replace(view.private, review=True))


async def test_two_phones_have_two_languages_at_once(browser: Browser) -> None:
    lesson, trouble = RememberingLesson(at(Phase.RUNNING)), []
    async with serve(lesson) as served:
        german = await in_control(await new_page(browser, PHONE, trouble, "de-DE"), served)
        french = await new_page(browser, PHONE, trouble, "fr-FR")
        await french.goto(served.pairing_link(Role.COACH))
        await french.wait_for_selector('[data-control="long"]')
        assert [await page.get_attribute("html", "lang") for page in (german, french)] == [
            "de",
            "fr",
        ]
        labels = [await page.text_content('[data-control="long"]') for page in (german, french)]
    assert not trouble
    assert len({*labels, "▲ Long"}) == 3


async def test_a_language_is_chosen_and_kept(browser: Browser) -> None:
    lesson, trouble = RememberingLesson(at(Phase.RUNNING)), []
    async with serve(lesson) as served:
        page = await in_control(await new_page(browser, PHONE, trouble), served)
        await page.click("#more > summary")
        await page.select_option("#language", "es")
        await page.wait_for_selector("html[lang=es]")
        await page.reload()
        assert await page.input_value("#language") == "es"
        assert await page.get_attribute("html", "lang") == "es"
    assert not trouble
