"""Lessons that courts have sent are reviewed by those who may, and each reading is written down."""

from __future__ import annotations

import re

import msgspec
import pytest

from feedscript.club.refusals import STORE_UNUSABLE
from feedscript.club.store.log import take_in
from feedscript.club.store.people import audit, forgotten
from feedscript.club.store.people.audit import Act
from feedscript.diagnostics import FeedscriptError
from tests.club.desks.stage import Asking, AtDesks, program
from tests.club.people.played import BEGUN_UTC_S, lesson
from tests.documents.held import wrong

WEEK_S = 7 * 86_400.0


def place(stage: AtDesks, name: str) -> str:
    return f"/lessons/{stage.court.host}/{name}"


def readings(stage: AtDesks) -> list[tuple[str | None, str | None]]:
    with stage.store.reading() as connection:
        found = audit.entries(connection, 50)
    return [(one.person, one.player) for one in found if one.act is Act.READ_REVIEW]


def listed(page: Asking) -> set[str]:
    return set(re.findall(r'href="/lessons/\w+/([\w-]+)"', page.get("/lessons").text))


@pytest.fixture(scope="module", autouse=True)
def more(stage: AtDesks) -> None:
    """Ada of Kim's group and Cleo of Lee's play together; a week later the same again."""
    later = BEGUN_UTC_S + WEEK_S
    mixed = [
        lesson("Ada", "Cleo", name="3-0000beef", title="Together"),
        lesson("Ada", "Cleo", name="4-0000beef", title="Together", begun_utc_s=later),
        lesson(name="5-0000beef", title="Nobody"),
    ]
    take_in(stage.store, stage.court.host, mixed, 9.0)


def test_a_coach_reviews_lessons_of_own_players_the_head_coach_all(stage: AtDesks) -> None:
    kim, lee, head = (stage.page(one) for one in (stage.kim, stage.lee, stage.head))
    assert listed(kim) == {"1-0000beef", "3-0000beef", "4-0000beef"}
    assert listed(lee) == {"2-0000beef", "3-0000beef", "4-0000beef"}
    assert listed(head) == {f"{n}-0000beef" for n in range(1, 6)}
    assert "Cleo" not in kim.get("/lessons").text
    mine, theirs = (kim.get(place(stage, name)) for name in ("1-0000beef", "2-0000beef"))
    assert mine.status_code == 200
    assert "Where the balls went" in mine.text
    nowhere = kim.get(place(stage, "9-0000beef"))
    assert theirs.status_code == nowhere.status_code == 404
    assert theirs.text == nowhere.text
    assert kim.get("/lessons?after=x").status_code == 422


def test_other_coaches_players_have_no_name_in_it(stage: AtDesks) -> None:
    kim, head = stage.page(stage.kim), stage.page(stage.head)
    told = kim.get(place(stage, "4-0000beef")).text
    assert "Ada" in told
    assert "other player 1" in told
    assert "Cleo" not in told
    assert "Cleo" in head.get(place(stage, "4-0000beef")).text


def test_the_lesson_of_the_week_before_stands_beside_it(stage: AtDesks) -> None:
    kim = stage.page(stage.kim)
    first, second = (kim.get(place(stage, name)).text for name in ("3-0000beef", "4-0000beef"))
    assert 'data-head="Since last time">–' in first
    assert 'data-head="Since last time">–' not in second


def test_each_reading_is_in_the_log_before_it_is_shown(
    stage: AtDesks, monkeypatch: pytest.MonkeyPatch
) -> None:
    kim, head = stage.page(stage.kim), stage.page(stage.head)
    before = len(readings(stage))
    assert kim.get(place(stage, "1-0000beef")).status_code == 200
    assert sorted(readings(stage)[: len(readings(stage)) - before]) == [
        (stage.kim.id, "Ada"),
        (stage.kim.id, "Ben"),
    ]
    assert "read the review of a lesson of" in head.get("/audit").text
    assert kim.get(place(stage, "2-0000beef")).status_code == 404
    head.get(place(stage, "5-0000beef"))
    assert readings(stage)[0] == (stage.head.id, None)
    many = len(readings(stage))
    assert kim.get("/suggestions/" + place(stage, "1-0000beef")[9:] + "/x").status_code == 409
    assert len(readings(stage)) == many + 2

    def full(*_words: object, **_more: object) -> None:
        raise FeedscriptError(STORE_UNUSABLE.report("the disk is full"))

    monkeypatch.setattr(audit, "note", full)
    unread = kim.get(place(stage, "1-0000beef"))
    assert unread.status_code == 503
    assert "Where the balls went" not in unread.text


def test_a_review_leads_to_the_coachs_own_program(stage: AtDesks) -> None:
    """What its records suggest is worked out in the words as they are saved."""
    kim = stage.page(stage.kim)
    strong = lesson("Ada", "Ben", "Ada", name="6-0000beef", title="Strong")
    data = [one.data.replace('"net"', '"in"').replace('"basic"', '"deep"') for one in strong.events]
    events = tuple(
        msgspec.structs.replace(one, data=told)
        for one, told in zip(strong.events, data, strict=True)
    )
    all_in = msgspec.structs.replace(strong, events=events)
    take_in(stage.store, stage.court.host, [all_in], 9.0)
    assert kim.save("strong", program("Strong")).status_code == 200
    told = kim.get(place(stage, "6-0000beef")).text
    assert f"/desk?next={stage.court.host}/6-0000beef&amp;program=strong&amp;player=Ada" in told
    found = kim.get(f"/suggestions/{stage.court.host}/6-0000beef/strong").json()
    assert [one["names"] for one in found["suggestions"]] == [["Ada"]]
    assert found["suggestions"][0]["proposals"]
    assert wrong("web-desk-suggested", found) == []
    assert "6-0000beef" in kim.get("/mine/strong").text
    lee = stage.page(stage.lee)
    assert lee.get(f"/suggestions/{stage.court.host}/6-0000beef/theirs").status_code == 404


def test_who_is_forgotten_stays_forgotten(stage: AtDesks) -> None:
    head = stage.page(stage.head)
    assert "Cleo" in head.get(place(stage, "2-0000beef")).text
    forgotten.forget(stage.store, "Cleo", 20.0)
    for name in ("2-0000beef", "4-0000beef"):
        told = head.get(place(stage, name))
        assert told.status_code == 200
        assert "Cleo" not in told.text
    assert "Cleo" not in head.get("/lessons").text
    assert listed(stage.page(stage.lee)) == set()
