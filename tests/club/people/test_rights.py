"""Everybody sees and does what is theirs, and nothing else; what was read is written down."""

from __future__ import annotations

import json

import pytest
from starlette.routing import Route

from feedscript.club.messages import INVITE
from feedscript.club.people.pages.routes import people_routes
from feedscript.club.refusals import STORE_UNUSABLE
from feedscript.club.store.people import audit, families, groups
from feedscript.club.store.people.audit import Act
from feedscript.club.store.store import Store
from feedscript.club.who import Role
from feedscript.diagnostics import FeedscriptError
from tests.club.people.stage import ORIGIN, Stage, told_link

#: What somebody of no role, of each role, and of another group is answered, place by place:
#: 2 sees it or has done it, 3 is sent to sign in, 4 is refused.
GET = {
    "/": "2 3 3 3 3",
    "/me": "3 2 2 2 2",
    "/me/export": "3 2 2 2 2",
    "/groups": "3 4 2 2 2",
    "/groups/new": "3 4 4 4 2",
    "/groups/{group}": "3 4 4 4 2",
    "/players/{player}": "3 4 4 2 2",
    "/players/{player}/record": "3 4 4 2 2",
    "/players/{player}/export": "3 4 4 4 2",
    "/people": "3 4 4 4 2",
    "/people/{person}/export": "3 4 4 4 2",
    "/keeping": "3 4 4 4 2",
    "/audit": "3 4 4 4 2",
    "/family/{token}": "4 4 4 4 4",
    "/invitations/{code}": "4 4 4 4 4",
}
POST = {
    "/groups/new": "3 4 4 4 4",
    "/groups/{group}": "3 4 4 4 4",
    "/groups/{group}/dissolve": "3 4 4 4 2",
    "/players/{player}/links": "3 4 4 4 4",
    "/links/{link}/withdraw": "3 4 4 4 4",
    "/players/{player}/forget": "3 4 4 4 4",
    "/people": "3 4 4 4 4",
    "/people/courts": "3 4 4 4 2",
    "/people/courts/{court}/withdraw": "3 4 4 4 4",
    "/people/{person}/invite": "3 4 4 4 2",
    "/people/{person}/withdraw": "3 4 4 4 2",
    "/keeping": "3 4 4 4 4",
    "/keeping/forget": "3 4 4 4 4",
    "/me/password": "3 4 4 4 4",
    "/sign-in": "4 4 4 4 4",
    "/sign-out": "3 3 3 3 3",
    "/language": "4 4 4 4 4",
    "/invitations/{code}": "4 4 4 4 4",
}


@pytest.fixture
def stage(store: Store) -> Stage:
    return Stage(store)


def group_of(stage: Stage, name: str) -> str:
    with stage.store.reading() as connection:
        return next(g.id for g in groups.groups_of(connection, stage.head) if g.name == name)


def test_every_place_has_its_line_in_the_tables(stage: Stage) -> None:
    routes = [one for one in people_routes(stage.desk) if isinstance(one, Route)]
    there = {
        (method, one.path) for one in routes for method in one.methods or () if method != "HEAD"
    }
    assert there == {("GET", one) for one in GET} | {("POST", one) for one in POST}


@pytest.mark.parametrize("method", ["GET", "POST"])
def test_roles_crossed(stage: Stage, method: str) -> None:
    """Ada is of Kim's group; Lee coaches another. Forms are empty, so what is somebody's to do is
    refused for its form (4) or done (2, 3)."""
    known = {
        "{player}": stage.desk.id_of("Ada"),
        "{group}": group_of(stage, "red"),
        "{person}": stage.person("max", Role.COACH).id,
    }
    for place, row in (GET if method == "GET" else POST).items():
        where = place
        for name, value in known.items():
            where = where.replace(name, value)
        people = (None, stage.wall, stage.lee, stage.kim, stage.head)
        for person, wanted in zip(people, row.split(), strict=True):
            answer = stage.browser(person).request(method, where)
            done = method == "POST" and wanted == "2" and answer.status_code == 303
            got = "2" if done else str(answer.status_code)[0]
            assert got == wanted, (place, person, answer.status_code, answer.text[:200])
            if wanted == "3" and place not in ("/", "/sign-out"):
                assert answer.headers["location"] == "/"


def test_another_coachs_player_and_one_that_is_not_there_are_answered_alike(stage: Stage) -> None:
    lee = stage.browser(stage.lee)
    other, nobody = lee.get(stage.at("Ada")), lee.get(stage.at("Nobody At All"))
    assert other.status_code == nobody.status_code == 404
    assert other.text == nobody.text
    assert "Ada" not in other.text


def test_a_coach_sees_own_players_and_nobody_elses_name(stage: Stage) -> None:
    page = stage.browser(stage.kim).get("/groups").text
    assert "Ada" in page
    assert "Cleo" not in page
    assert "Change" not in page
    head = stage.browser(stage.head).get("/groups").text
    assert "Cleo" in head


def test_a_record_is_read_and_the_reading_stands_in_the_log_before_it_is_shown(
    stage: Stage, monkeypatch: pytest.MonkeyPatch
) -> None:
    kim = stage.browser(stage.kim)
    page = kim.get(f"{stage.at('Ada')}/record")
    assert page.status_code == 200
    assert "Ada: all lessons" in page.text
    assert "Ben" not in page.text
    log = stage.browser(stage.head).get("/audit").text
    assert "read the record of" in log
    with stage.store.reading() as connection:
        found = [(one.person, one.act, one.player) for one in audit.entries(connection, 9)]
    assert (stage.kim.id, Act.READ_RECORD, "Ada") in found

    def full(*_words: object, **_more: object) -> None:
        raise FeedscriptError(STORE_UNUSABLE.report("the disk is full"))

    monkeypatch.setattr(audit, "note", full)
    unread = kim.get(f"{stage.at('Ada')}/record")
    assert unread.status_code == 503
    assert "Ada: all lessons" not in unread.text


def test_a_familys_link_shows_one_player_and_is_withdrawn(stage: Stage) -> None:
    kim = stage.browser(stage.kim)
    link = told_link(kim.post(f"{stage.at('Ada')}/links", data={"days": "30"}))
    family = stage.browser()
    page = family.get(link)
    assert page.status_code == 200
    assert "What Ada practised" in page.text
    assert "Ben" not in page.text
    for place in ("/groups", stage.at("Ada"), f"{stage.at('Ada')}/record", "/courts", "/audit"):
        assert family.get(place).status_code in (303, 404)
    assert family.post(link).status_code == 405
    assert family.get(f"{link}x").status_code == 404
    shown = kim.get(stage.at("Ada")).text
    assert link not in shown
    with stage.store.reading() as connection:
        named = families.links_of(connection, "Ada")[0]
        readings = audit.entries(connection, 20, player="Ada")
    assert [one.who for one in readings if one.act is Act.READ_FAMILY_PAGE] == ["a family"]
    lee = stage.browser(stage.lee)
    assert lee.post(f"/links/{named.id}/withdraw").status_code == 404
    assert family.get(link).status_code == 200
    assert kim.post(f"/links/{named.id}/withdraw").status_code == 303
    assert family.get(link).status_code == 404


def test_a_familys_link_ends_by_itself(stage: Stage) -> None:
    kim = stage.browser(stage.kim)
    link = told_link(kim.post(f"{stage.at('Ada')}/links", data={"days": "7"}))
    stage.now_utc_s += 7 * 86_400.0 - 10.0
    assert stage.browser().get(link).status_code == 200
    stage.now_utc_s += 20.0
    assert stage.browser().get(link).status_code == 404
    for days in ("8", "0", "-1", "99999", "x", ""):
        assert kim.post(f"{stage.at('Ada')}/links", data={"days": days}).status_code in (303, 422)


def test_links_are_not_guessed(stage: Stage) -> None:
    kim = stage.browser(stage.kim)
    link = told_link(kim.post(f"{stage.at('Ada')}/links", data={"days": "30"}))
    token = link.removeprefix("/family/")
    assert len(token) >= 43  # 256 bits
    family = stage.browser()
    for guess in (token[:-1], token.swapcase(), token + "=", "%00", "..%2f..%2f", "' OR 1=1 --"):
        assert family.get(f"/family/{guess}").status_code == 404


def test_export_tells_all_of_one_player_and_nothing_of_others(stage: Stage) -> None:
    kim, head = stage.browser(stage.kim), stage.browser(stage.head)
    told_link(kim.post(f"{stage.at('Ada')}/links", data={"days": "30"}))
    kim.get(f"{stage.at('Ada')}/record")
    answer = head.get(f"{stage.at('Ada')}/export")
    assert answer.headers["content-disposition"].startswith("attachment")
    told = json.loads(answer.text)
    assert told["player"] == "Ada"
    assert len(told["lessons"][0]["every_ball"]) == 12
    assert told["groups"] == ["red"]
    assert len(told["family_links"]) == 1
    whats = [one["what"] for one in told["readings"]]
    assert {"read-record", "linked-family", "exported"} <= set(whats)
    assert "Ben" not in answer.text
    assert "Cleo" not in answer.text


def test_export_tells_an_account_what_is_known_of_it(stage: Stage) -> None:
    kim = stage.browser(stage.kim)
    kim.get(f"{stage.at('Ada')}/record")
    told = json.loads(kim.get("/me/export").text)
    assert told["sign_in_name"] == "kim@club.example"
    assert told["groups"] == ["red"]
    assert "read-record" in [one["what"] for one in told["did"]]
    assert "Ada" not in json.dumps(told["did"])


def test_the_head_coach_forgets_a_player_after_writing_the_name(stage: Stage) -> None:
    head = stage.browser(stage.head)
    place = stage.at("Ada")
    wrong = head.post(f"{place}/forget", data={"sure": "Ben"})
    assert wrong.status_code == 422
    assert head.get(place).status_code == 200
    done = head.post(f"{place}/forget", data={"sure": "ada"})
    assert "Forgotten here" in done.text
    assert "court one" in done.text
    assert head.get(place).status_code == 404
    for page in ("/groups", "/audit", "/people", "/keeping"):
        assert "Ada" not in head.get(page).text
    assert "Ben" in head.get("/groups").text


def test_a_player_whom_only_a_court_knows_is_forgotten_by_name(stage: Stage) -> None:
    head = stage.browser(stage.head)
    done = head.post("/keeping/forget", data={"player": "Somebody Away"})
    assert "it stood in 0 places" in done.text
    letter = head.post("/keeping/forget", data={"player": "A"})
    assert letter.status_code == 422


def test_rules_are_set_and_kept_to(stage: Stage) -> None:
    head = stage.browser(stage.head)
    for bad in ({"lessons": "x", "readings": "0"}, {"lessons": "-1", "readings": "0"}, {}):
        assert head.post("/keeping", data=bad).status_code == 422
    stage.now_utc_s += 100 * 86_400.0
    head = stage.browser(stage.head)
    kept = head.post("/keeping", data={"lessons": "90", "readings": "30"})
    assert "2 lessons were old enough" in kept.text
    assert stage.browser(stage.head).get(f"{stage.at('Ada')}/record").status_code == 404


def test_a_court_joins_by_the_head_coachs_code(stage: Stage) -> None:
    head = stage.browser(stage.head)
    page = head.post("/people/courts").text
    assert "feedscript club join http://testserver" in page
    assert head.post(f"/people/courts/{stage.court.host}/withdraw").status_code == 303
    bearer = {"Authorization": f"Bearer {stage.court.key}"}
    assert stage.browser().get("/api/hosts/events", headers=bearer).status_code == 401
    for person, status in ((stage.head, 200), (stage.kim, 403), (None, 401)):
        assert stage.browser(person).post(INVITE, json={}).status_code == status


@pytest.mark.parametrize(
    "odd",
    ["<script>alert(1)</script>", "Robin'); DROP TABLE person; --", '"><img src=x>', "{{7*7}}"],
)
def test_names_with_statements_and_script_are_shown_as_they_are(stage: Stage, odd: str) -> None:
    head = stage.browser(stage.head)
    asked = {"name": odd, "players": odd, "coach": [stage.kim.id, odd]}
    assert head.post("/groups/new", data=asked).status_code == 303
    head.post("/people", data={"name": odd, "login": odd, "role": "coach"})
    for page in ("/groups", "/people", "/audit", stage.at(odd)):
        text = head.get(page).text
        assert "<script" not in text
        assert "<img" not in text
    assert "Ada" in head.get("/groups").text


@pytest.mark.parametrize(
    "form",
    [
        {"name": "x" * 81, "players": "Ada"},
        {"name": "", "players": "Ada"},
        {"name": "a\x00b", "players": "Ada"},
        {"name": "red", "players": "a\u202eb"},
        {"name": "red", "players": "x" * 81},
        {"name": "red", "players": "!"},
        {"name": "red", "players": "\n".join(f"player {n}" for n in range(301))},
    ],
)
def test_a_group_that_cannot_be_is_refused_and_the_old_one_stays(
    stage: Stage, form: dict[str, str]
) -> None:
    head = stage.browser(stage.head)
    assert head.post(f"/groups/{group_of(stage, 'red')}", data=form).status_code == 422
    assert "Ben" in head.get("/groups").text


def test_a_form_without_end_is_read_no_further(stage: Stage) -> None:
    head = stage.browser(stage.head)
    assert head.post("/groups/new", content=b"x" * 60_000).status_code == 413
    for body in (b"\xff\xfe", b"&".join(b"a=1" for _ in range(400)), b"name=%ff"):
        assert head.post("/groups/new", content=body).status_code == 422


def test_pages_cannot_be_framed_and_send_nothing_elsewhere(stage: Stage) -> None:
    headers = stage.browser().get("/").headers
    policy = headers["content-security-policy"]
    assert "frame-ancestors 'none'" in policy
    assert "script-src" not in policy
    assert "default-src 'none'" in policy
    assert headers["cache-control"] == "no-store"
    assert stage.browser().get("/people-files/people.css").status_code == 200
    assert ORIGIN == "http://testserver"
