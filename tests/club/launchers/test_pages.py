"""The launchers' pages: where each stands, what it says of itself, its weeks as pictures, and what
to do next."""

from __future__ import annotations

import base64
import re

import msgspec
import pytest
from starlette.testclient import TestClient

from feedscript.club.batch import Part
from feedscript.club.launchers.pages import id_of
from feedscript.club.launchers.pictures import pictures
from feedscript.club.launchers.sheets import WEEK_S, Advice, Landing, Launchers, sheets
from feedscript.club.launchers.words import COMMANDS, SEEN, to_do
from feedscript.club.library.shelf import Shelf
from feedscript.club.library.signing import ClubKey
from feedscript.club.server.app import make_app
from feedscript.club.server.club import Club
from feedscript.club.server.serve import pages_of
from feedscript.club.store.log import take_in
from feedscript.club.store.store import Store
from feedscript.club.who import Role
from feedscript.review.drawing.svg import write
from feedscript.shipped import shipped_profiles
from tests.club.launchers.test_sheets import NOW, drawn, lesson, marked, played
from tests.club.lessons import court
from tests.club.library.signed import KEY
from tests.club.server.stage import PEOPLE, as_, who

__all__ = ["lesson"]
GARAGE = shipped_profiles()["garage.toml"].read_text("utf-8")


@pytest.fixture
def club(store: Store, monkeypatch: pytest.MonkeyPatch) -> TestClient:
    made = Club(store, who)
    its = made.launchers.sheets
    monkeypatch.setattr(made.launchers, "sheets", lambda _now: its(NOW))
    return TestClient(make_app(made, ["testserver"], pages_of(made, ClubKey(KEY))))


def test_a_lesson_puts_its_launcher_on_the_page(
    club: TestClient, store: Store, lesson: Part
) -> None:
    take_in(store, court(store).host, [marked(lesson, (0.4, 0.0))], NOW)
    listed = club.get("/launchers", headers=as_("coach")).text
    assert "court one" in listed
    assert "<dd>0.1.0</dd>" in listed  # as the launcher itself said at the lesson's beginning
    assert "(not in the club&#x27;s library)" in listed
    assert "13 balls in 1 lesson" in listed
    assert "jam (1)" in listed
    assert "land to one side of their aims" in listed
    (sheet,) = Launchers(store).sheets(NOW)
    one = club.get(f"/launchers/{id_of(sheet)}", headers=as_("coach")).text
    assert "+0.40 m right" in one
    shown = re.findall(r"data:image/svg\+xml;base64,([\w+/=]+)", one)
    assert len(shown) == 5
    assert all(base64.b64decode(each).startswith(b"<svg") for each in shown)


def test_the_profile_is_called_as_in_the_library_and_a_newer_one_is_named(
    club: TestClient, store: Store, lesson: Part
) -> None:
    take_in(store, court(store).host, [lesson], NOW)
    shelf, head = Shelf(store, ClubKey(KEY), lambda: NOW), PEOPLE[Role.HEAD_COACH]
    first = shelf.add("garage.toml", GARAGE, "", head).sha256
    shelf.approve(first, "", head)
    listed = club.get("/launchers", headers=as_("coach")).text
    assert f'<a href="/library/texts/{first}">club/garage.toml</a>' in listed
    assert "another profile for it" not in listed
    tuned = GARAGE.replace("drag_factor = 1.0", "drag_factor = 1.05")
    shelf.approve(shelf.add("garage.toml", tuned, "", head).sha256, "", head)
    listed = club.get("/launchers", headers=as_("coach")).text
    assert "The library has another profile for it" in listed


def test_nothing_is_there_yet_and_one_that_is_not_there(club: TestClient) -> None:
    assert "No court has sent a lesson" in club.get("/launchers", headers=as_("coach")).text
    assert club.get("/launchers/none", headers=as_("coach")).status_code == 404


def test_each_picture_has_the_dates_and_figures_that_it_shows() -> None:
    wide = tuple(Landing((one[0], one[1]), (0.3, -0.2)) for one in drawn(3, 30, width=2.5))
    (sheet,) = sheets([played(9, profile_hash="b"), played(1, landings=wide)], NOW)
    assert [week.spread is not None for week in sheet.weeks] == [False] * 8 + [True, False]
    assert sheet.weeks[8].spread == pytest.approx(2.5, rel=0.3)
    for one in pictures(sheet):
        svg = write(one.drawn)
        assert one.title in one.words
        assert "15 Jan" in svg or "11 Jan" in svg  # the newest week of this clock
    drift = pictures(sheet)[1]
    assert "0.30" in drift.words
    assert "-0.20" in drift.words
    quiet = sheets([played(1)], NOW)[0]
    assert len(pictures(quiet)) == 3  # nothing was measured: nothing is drawn of it


def test_every_advice_has_words_and_says_what_to_do() -> None:
    (sheet,) = sheets([played(1, faults={"jam": 2, "empty": 5})], NOW)
    for advice in Advice:
        assert SEEN[advice]
        assert to_do(advice, sheet)
    assert "empty (5), jam (2)" in to_do(Advice.MEND, sheet)
    assert all(command.startswith("feedscript tune ") for command in COMMANDS.values())


def test_a_launcher_that_says_no_version_is_said_to_say_none(store: Store, lesson: Part) -> None:
    older = [one for one in lesson.events if one.kind != "event" or "hello" not in one.data]
    renumbered = tuple(
        msgspec.structs.replace(one, number=number) for number, one in enumerate(older, 1)
    )
    take_in(store, court(store).host, [msgspec.structs.replace(lesson, events=renumbered)], NOW)
    (sheet,) = Launchers(store).sheets(NOW)
    assert sheet.firmware == ""
    assert sheet.weeks[-1].begins_utc_s == NOW - WEEK_S
