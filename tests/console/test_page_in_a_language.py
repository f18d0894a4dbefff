"""The page comes in the language of its device; two may have two, in front of one lesson."""

from __future__ import annotations

import msgspec
import pytest
from playwright.async_api import Browser

from feedscript.console.access import Role
from feedscript.console.serve import serve
from feedscript.session.operator.phases import Phase
from feedscript.session.operator.view import ON_COURT, Call, LessonView, StationNow
from feedscript.tongues.text import _, in_language
from tests.console.accessible import violations
from tests.console.browser import PHONE, SCREEN, new_page
from tests.console.conftest import ORIGIN, Stage
from tests.console.lesson import RememberingLesson
from tests.console.test_page import in_control
from tests.session.operator.seen_views import a_player, at

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


#: A moment as the page's scripts tell it, in English and in the page's language.
MONTHS = """async () => {
  const { moment } = await import("/static/words.js");
  const root = document.documentElement, at = new Date(2026, 10, 9, 9, 5), own = root.lang;
  root.lang = "en";
  const english = moment(at);
  root.lang = own;
  return [english, moment(at)];
}"""


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
        months = await german.evaluate(MONTHS)
    assert not trouble
    assert len({*labels, "▲ Long"}) == 3
    assert months == ["9 Nov 2026, 09:05", "9. Nov. 2026, 09:05"]


GERMAN_VOICE = """
window.said = [];
window.SpeechSynthesisUtterance = class { constructor(text) { this.text = text; } };
const voices = ["en-GB", "de-DE"].map((lang) => ({ lang, localService: true }));
const speech = {
  getVoices: () => voices, cancel() {},
  speak: (words) => { if (words.text.trim()) window.said.push([words.text, words.voice.lang]); },
};
Object.defineProperty(window, "speechSynthesis", { value: speech });
"""


def called(view: LessonView, number: int, text: str, language: str = "") -> LessonView:
    """A call, to a player who speaks this language, and that player on court."""
    told = in_language(language, text)
    call = Call(number=number, text=told, utc_s=view.utc_s, language=language)
    ana = msgspec.structs.replace(a_player("Ana"), language="de")
    on = StationNow(on="Ana", on_words=in_language("de", ON_COURT), next_up="Bo")
    return msgspec.structs.replace(
        view, calls=(call,), players=(ana, a_player("Bo")), stations=(on,), count_in_s=None
    )


async def test_a_player_is_called_in_the_players_language_on_every_screen(browser: Browser) -> None:
    lesson, trouble = RememberingLesson(at(Phase.RUNNING)), []
    async with serve(lesson) as served:
        coach = await new_page(browser, PHONE, trouble, "en-GB")
        await coach.add_init_script(GERMAN_VOICE)
        await in_control(coach, served)
        group = await new_page(browser, SCREEN, trouble, "es-ES")
        await group.goto(served.pairing_link(Role.VIEWER))
        await group.wait_for_selector("#stations li")
        to_ana = _("{player} is on", player="Ana")
        lesson.change(called(lesson.view, 101, to_ana, "de"))
        for page in (coach, group):
            await page.wait_for_selector("#call[lang=de]:has-text('Ana ist dran')")
            assert await page.inner_text("#stations .on-words[lang=de]") == "Am Ball"
        assert await coach.inner_text("#stations .next-words") == "Next"
        assert await group.inner_text("#stations .next-words") == "Después"
        assert await violations(group) == {}
        lesson.change(called(lesson.view, 102, _("{player} is on", player="Bo")))
        await coach.wait_for_selector("#call:not([lang]):has-text('Bo is on')")
        await group.wait_for_selector("#call:not([lang]):has-text('Le toca a Bo')")
        spoken = await coach.evaluate("said")
    assert spoken == [["Ana ist dran", "de-DE"], ["Bo is on", "en-GB"]]
    assert not trouble


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
