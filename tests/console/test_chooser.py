"""What the page between lessons lets through, and what a choice does: nothing to any launcher."""

from __future__ import annotations

from pathlib import Path

import anyio
import pytest
from playwright.async_api import Browser, Route, expect
from starlette.testclient import TestClient

from feedscript.check.check_program import Options, check_program
from feedscript.console.access import Access, Role
from feedscript.console.chooser import Before, Chooser, chooser_app
from feedscript.console.offer import Places, choices
from feedscript.console.walls import PAGE_KEY
from feedscript.journal.store import open_journal
from feedscript.session.engine.guards import CertifiedFences
from feedscript.session.engine.start import Setting, begin_lesson
from tests.console.sent_along import as_its_page
from tests.console.test_chooser_page import PROGRAM

ORIGIN = {"Origin": "http://testserver"}


class Evening:
    """The page between lessons, a browser that is not paired, and whether a choice was taken."""

    def __init__(self, folder: Path, *urls: str) -> None:
        (folder / "short.feed").write_text(PROGRAM)
        (folder / "wrong.feed").write_text(PROGRAM.replace("80 km/h", "900 km/h"))
        self.places = Places(
            folder=folder, library=folder / "none", journal=folder / "j.sqlite", urls=urls,
            options=Options(),
        )  # fmt: skip
        self.before = Before()
        self.access = Access(lambda: 0.0)
        self.taken = 0
        self.chooser = Chooser(self.places, self.before, self.access, self._take)
        self.client = TestClient(chooser_app(self.chooser, ("testserver",)))

    def _take(self) -> None:
        self.taken += 1

    def pair(self, role: Role = Role.COACH) -> None:
        code = self.access.new_code(role)
        as_its_page(self.client, self.ask("/pair", code=code, name="phone"))

    def ask(self, path: str, **what: str):
        return self.client.post(path, json=what, headers=ORIGIN)


@pytest.fixture
def evening(tmp_path: Path) -> Evening:
    return Evening(tmp_path, "serial:/dev/none")


def refusal(answer) -> str:
    assert answer.status_code in (403, 409), answer.text
    return answer.json()["refused"]["message"]


def broken_off(evening: Evening) -> None:
    verdict = check_program(evening.places.folder / "short.feed")
    assert verdict.plan is not None
    journal = open_journal(evening.places.journal)
    setting = Setting(source="short.feed", rehearsal=False, wall_utc_s=1e9)

    async def begin() -> None:
        begin_lesson(verdict.plan, verdict.profiles, journal, CertifiedFences(), setting, 7)

    anyio.run(begin)
    journal.close()


def test_only_a_paired_coach_sees_and_chooses(evening: Evening) -> None:
    asked = {"key": "own:short", "launchers": "given"}
    for role, page in ((None, 'id="pair"'), (Role.VIEWER, "Between lessons")):
        if role is not None:
            evening.pair(role)
        assert page in evening.client.get("/").text
        for path in ("/choices", "/judged", "/begin", "/stands-still"):
            assert evening.ask(path, **asked).status_code == 403
        assert evening.client.get("/review").status_code == 403
    assert evening.taken == 0
    evening.client.cookies.clear()
    evening.pair()
    assert 'id="choose"' in evening.client.get("/").text
    assert evening.ask("/choices").status_code == 200


def test_a_foreign_page_and_another_shape_are_refused(evening: Evening) -> None:
    evening.pair()
    asked = {"key": "own:short", "launchers": "given"}
    for headers in ({}, {"Origin": "http://elsewhere"}):
        assert evening.client.post("/begin", json=asked, headers=headers).status_code == 403
    assert evening.ask("/begin", key="own:short").status_code == 400
    assert evening.client.post("/begin", content=b"x" * 10**6, headers=ORIGIN).status_code == 413
    assert evening.client.get("/", headers={"Host": "elsewhere"}).status_code == 400
    assert evening.taken == 0


def test_the_list_has_own_programs_before_shipped_ones(evening: Evening) -> None:
    kinds = [one.kind for one in choices(evening.places)]
    assert kinds == sorted(kinds, key=["unfinished", "own", "shipped"].index)
    assert {"own:short", "own:wrong"} <= {one.key for one in choices(evening.places)}
    assert sum(kind == "shipped" for kind in kinds) > 8


def test_a_verdict_comes_in_a_sentence(evening: Evening) -> None:
    evening.pair()
    passed = evening.ask("/judged", key="own:short").json()
    assert passed == {
        "passed": True,
        "said": "It passes the check: 21 balls at most, up to 1 min of play.",
    }
    wrong = evening.ask("/judged", key="own:wrong").json()
    assert not wrong["passed"]
    assert wrong["said"].startswith("It is refused: ")
    assert "Fix: " in wrong["said"]


def test_what_does_not_pass_or_is_not_on_offer_does_not_begin(evening: Evening) -> None:
    evening.pair()
    for key in ("own:wrong", "own:../short", "lesson:1", "nothing"):
        refusal(evening.ask("/begin", key=key, launchers="rehearsed"))
    assert evening.chooser.chosen is None
    assert evening.taken == 0


def test_the_first_choice_counts_and_a_second_is_refused(evening: Evening) -> None:
    evening.pair()
    assert evening.ask("/begin", key="own:short", launchers="given").status_code == 200
    assert "another lesson begins" in refusal(
        evening.ask("/begin", key="own:short", launchers="rehearsed")
    )
    chosen = evening.chooser.chosen
    assert chosen is not None
    assert (chosen.urls, chosen.rehearsal, evening.taken) == (("serial:/dev/none",), False, 1)


def test_a_rehearsal_is_said_to_be_one_and_has_as_many_launchers_as_the_program(
    evening: Evening,
) -> None:
    evening.pair()
    assert evening.ask("/begin", key="shipped:sunday-eleven", launchers="rehearsed").is_success
    assert evening.chooser.chosen is not None
    assert evening.chooser.chosen.rehearsal
    assert evening.chooser.chosen.urls == ("sim:", "sim:")


def test_addresses_are_as_many_as_the_program_has_launchers(evening: Evening) -> None:
    evening.pair()
    said = refusal(evening.ask("/begin", key="shipped:sunday-eleven", launchers="given"))
    assert said == "launchers in the program: 2; addresses given: 1"


def test_nothing_begins_before_somebody_has_seen_that_the_launcher_stands_still(
    evening: Evening,
) -> None:
    evening.pair()
    evening.before.not_stopped = ("north",)
    asked = {"key": "own:short", "launchers": "given"}
    assert "did not confirm that it stopped" in refusal(evening.ask("/begin", **asked))
    assert evening.ask("/choices").json()["not_stopped"] == ["north"]
    assert evening.ask("/stands-still").is_success
    assert evening.ask("/begin", **asked).is_success


def test_what_was_broken_off_comes_first_and_goes_on_at_its_launchers_only(
    evening: Evening, tmp_path: Path
) -> None:
    broken_off(evening)
    first = choices(evening.places)[0]
    assert (first.kind, first.lesson) == ("unfinished", 1)
    assert first.title == "Go on with “Short one (invented)”"
    assert first.about == "0 of 21 balls sent"
    evening.pair()
    for urls in ((), ("sim:",)):
        simulated = Evening(tmp_path, *urls)
        simulated.pair()
        said = refusal(simulated.ask("/begin", key="lesson:1", launchers="given"))
        assert "at its launchers only" in said
    assert "only" in refusal(evening.ask("/begin", key="lesson:1", launchers="rehearsed"))
    assert evening.ask("/begin", key="lesson:1", launchers="given").is_success
    assert evening.chooser.chosen is not None
    assert evening.chooser.chosen.choice.lesson == 1


@pytest.mark.anyio
async def test_a_page_that_is_known_no_more_between_lessons_asks_for_a_code(
    evening: Evening, browser: Browser
) -> None:
    evening.pair()
    page = await browser.new_page()

    async def answer(route: Route) -> None:
        asked = route.request
        known = {PAGE_KEY: asked.headers[PAGE_KEY]} if PAGE_KEY in asked.headers else {}
        evening.client.headers.pop(PAGE_KEY, None)  # the browser's own, if it has any
        told = evening.client.request(
            asked.method, asked.url, content=asked.post_data_buffer, headers={**ORIGIN, **known}
        )
        kind = told.headers["content-type"]
        await route.fulfill(status=told.status_code, body=told.content, content_type=kind)

    await page.route("**/*", answer)
    await page.goto("http://testserver/")
    await expect(page.locator("form#pair")).to_be_visible()
