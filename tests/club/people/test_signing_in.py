"""Who comes in, and how long somebody may guess."""

from __future__ import annotations

import json
import time

import pytest
from click.testing import CliRunner
from starlette.testclient import TestClient

from feedscript.cli import verbs
from feedscript.club.people import signing_in
from feedscript.club.people.beginning import INVITED, first_invitation
from feedscript.club.people.pages.answers import Desk
from feedscript.club.people.pages.routes import people_routes
from feedscript.club.people.passwords import hashed, is_right, what_is_wrong
from feedscript.club.people.signing_in import COOKIE, DEVICE_COOKIE, who_of
from feedscript.club.server.app import make_app
from feedscript.club.server.club import Club
from feedscript.club.store.people import accounts, audit
from feedscript.club.store.people.audit import Act
from feedscript.club.store.store import Store
from feedscript.club.who import Role
from tests.club.people.stage import CHEAP, ORIGIN, PASSWORD, Stage, told_link


@pytest.fixture
def stage(store: Store) -> Stage:
    return Stage(store)


def sign_in(client, login="kim@club.example", password=PASSWORD):
    return client.post("/sign-in", data={"login": login, "password": password})


def test_the_right_password_opens_and_signing_out_closes(stage: Stage) -> None:
    client = stage.browser()
    assert "Sign in" in client.get("/").text
    done = sign_in(client, " KIM@club.example ")
    assert (done.status_code, done.headers["location"]) == (303, "/")
    for cookie in done.headers.get_list("set-cookie"):
        assert {"HttpOnly", "SameSite=strict"} <= set(cookie.split("; "))
    assert client.get("/").headers["location"] == "/groups"
    token = client.cookies[COOKIE]
    assert client.post("/sign-out").status_code == 303
    assert client.get("/groups").headers["location"] == "/"
    client.cookies.set(COOKIE, token)  # replayed
    assert client.get("/groups").headers["location"] == "/"


def test_a_sign_in_ends_by_itself(stage: Stage) -> None:
    client = stage.browser()
    sign_in(client)
    stage.now_utc_s += signing_in.SIGN_IN_S + 1
    assert client.get("/groups").headers["location"] == "/"


@pytest.mark.parametrize(
    ("login", "password"),
    [
        ("kim@club.example", "clay under blue umbrella"),
        ("kim@club.example", ""),
        ("nobody@club.example", PASSWORD),
        ("", ""),
        ("kim@club.example' OR 1=1 --", PASSWORD),
        ("kim@club.example", "\ud83d" * 3 + "ä" * 5000),
    ],
)
def test_anything_else_is_refused_in_the_same_words(
    stage: Stage, login: str, password: str
) -> None:
    client = stage.browser()
    refused = client.post(
        "/sign-in",
        data={"login": login, "password": password.encode("utf-8", "replace").decode()},
    )
    assert refused.status_code == 403
    assert "Name and password do not belong together." in refused.text
    assert COOKIE not in client.cookies


def test_who_guesses_is_stopped_and_who_was_there_before_is_not(stage: Stage) -> None:
    own = stage.browser()
    sign_in(own)
    own.post("/sign-out")
    stranger = stage.browser()
    for _ in range(signing_in.MOST_BY_NAME):
        assert "do not belong together" in sign_in(stranger, password="guessed").text
    for password in ("guessed", PASSWORD):
        assert "Too many wrong passwords" in sign_in(stranger, password=password).text
    assert sign_in(own).status_code == 303
    stage.now_utc_s += signing_in.WINDOW_S + 1
    assert sign_in(stranger).status_code == 303


def test_a_browser_that_was_there_before_may_not_guess_for_ever_either(stage: Stage) -> None:
    own = stage.browser()
    sign_in(own)
    for _ in range(signing_in.MOST_BY_DEVICE):
        sign_in(own, password="guessed")
    assert "Too many wrong passwords" in sign_in(own).text


def test_one_address_may_not_try_every_name(stage: Stage) -> None:
    stranger = stage.browser()
    for number in range(signing_in.MOST_BY_ADDRESS):
        sign_in(stranger, f"{number}@club.example", "guessed")
    assert "Too many wrong passwords" in sign_in(stranger).text


def test_another_page_cannot_sign_anybody_in_or_out(stage: Stage) -> None:
    client = stage.browser(stage.kim)
    for origin in ("http://elsewhere.example", "null", "http://testserver.example", ""):
        for place in ("/sign-in", "/sign-out", "/language", "/me/password"):
            answer = client.post(place, data={"login": "x"}, headers={"Origin": origin})
            assert answer.status_code == 403
    assert client.get("/groups").status_code == 200


def test_an_invitation_is_taken_up_once_with_a_good_password(stage: Stage) -> None:
    head = stage.browser(stage.head)
    asked = {"name": "Max", "login": "max@club.example", "role": "coach"}
    link = told_link(head.post("/people", data=asked))
    new = stage.browser()
    assert "Welcome, Max" in new.get(link).text
    for password, again, why in (
        ("short", "short", "12 letters or more"),
        (PASSWORD, PASSWORD + "x", "differ"),
        ("aaaaaaaaaaaaaa", "aaaaaaaaaaaaaa", "easily guessed"),
        ("x" * 201, "x" * 201, "200 letters"),
    ):
        refused = new.post(link, data={"password": password, "again": again})
        assert refused.status_code == 422
        assert why in refused.text
    assert new.post(link, data={"password": PASSWORD, "again": PASSWORD}).status_code == 303
    assert new.get("/groups").status_code == 200
    for client in (stage.browser(), new):
        assert client.get(link).status_code == 404
        again = client.post(link, data={"password": PASSWORD, "again": PASSWORD})
        assert again.status_code == 404
    assert stage.browser().get("/invitations/guessed").status_code == 404
    late = told_link(head.post("/people", data={**asked, "login": "late"}))
    stage.now_utc_s += 8 * 86_400.0
    assert stage.browser().get(late).status_code == 404


def test_a_new_password_ends_every_other_sign_in(stage: Stage) -> None:
    one, other = stage.browser(), stage.browser(stage.kim)
    sign_in(one)
    new = "nine lemons on a ladder"
    wrong = {"password-now": "guessed", "password": new, "again": new}
    assert one.post("/me/password", data=wrong).status_code == 422
    done = one.post("/me/password", data={**wrong, "password-now": PASSWORD})
    assert done.status_code == 303
    assert one.get("/groups").status_code == 200
    assert other.get("/groups").headers["location"] == "/"
    assert sign_in(stage.browser()).status_code == 403
    assert sign_in(stage.browser(), password=new).status_code == 303
    with stage.store.reading() as connection:
        assert Act.CHANGED_PASSWORD in [one.act for one in audit.entries(connection, 9)]


def test_who_is_withdrawn_between_password_and_answer_is_not_let_in(
    stage: Stage, monkeypatch: pytest.MonkeyPatch
) -> None:
    def meanwhile(password: str, kept: str) -> bool:
        with stage.store.writing() as connection:
            accounts.withdraw(connection, stage.kim.id, 5.0)
        return is_right(password, kept)

    monkeypatch.setattr(signing_in, "is_right", meanwhile)
    assert sign_in(stage.browser()).status_code == 403


def test_the_cookie_of_a_browser_opens_nothing(stage: Stage) -> None:
    client = stage.browser()
    sign_in(client)
    device = client.cookies[DEVICE_COOKIE]
    other = stage.browser()
    other.cookies.set(COOKIE, device)
    assert other.get("/groups").headers["location"] == "/"


def test_passwords_are_kept_as_argon2id_and_compared_however_they_are_typed() -> None:
    kept = hashed("Zoë's four umbrellas", CHEAP)
    assert kept.startswith("$argon2id$v=19$")
    assert is_right("Zoe\u0308's four umbrellas", kept)
    assert not is_right("Zoe's four umbrellas", kept)
    assert not is_right("", "")
    assert kept != hashed("Zoë's four umbrellas", CHEAP)
    assert what_is_wrong("kim@club.example", "kim@club.example", "kim@club.example") is not None


def test_what_it_costs_is_what_is_recommended() -> None:
    assert hashed("x" * 12).startswith("$argon2id$v=19$m=65536,t=3,p=4$")


def test_a_head_coach_who_cannot_sign_in_gets_a_link_from_the_servers_terminal(
    store: Store,
) -> None:
    stage = Stage(store)
    stage.now_utc_s = time.time()
    words = ["club", "password", "HEAD@club.example", "--store", store.name, "--format", "json"]
    link = json.loads(CliRunner().invoke(verbs, words).output)["path"]
    new = "nine lemons on a ladder"
    client = stage.browser()
    assert client.post(link, data={"password": new, "again": new}).status_code == 303
    assert client.get("/people").status_code == 200
    words[2] = "nobody"
    refused = CliRunner().invoke(verbs, words)
    assert refused.exit_code == 2
    assert "club-no-account" in refused.output


def test_the_first_head_coach_says_how_to_be_called_and_nobody_after(store: Store) -> None:
    club = Club(store, who_of(store, lambda: 10.0))
    desk = Desk(store, club.who, lambda: 10.0, CHEAP)
    app = make_app(club, ["testserver"], people_routes(desk))
    browser = TestClient(app, headers={"Origin": ORIGIN}, follow_redirects=False)
    its = f"{INVITED}{first_invitation(store, 10.0)}"
    assert "Your name" in browser.get(its).text
    asked = {"name": "Robin", "login": "Robin@club.example", "password": PASSWORD}
    refused = browser.post(its, data={**asked, "again": "another"})
    assert refused.status_code == 422
    assert "Robin@club.example" in refused.text  # what was written stays
    assert browser.post(its, data={**asked, "again": PASSWORD}).status_code == 303
    (robin,) = accounts.everyone(store)
    assert (robin.person.name, robin.login) == ("Robin", "robin@club.example")
    with store.writing() as connection:
        made = accounts.make(connection, "kim@club.example", "kim", Role.COACH, 10.0)
        code = accounts.invite(connection, made.id, 100.0)
    assert "Your name" not in browser.get(f"{INVITED}{code}").text
    taken = {"name": "Robin", "login": "robin@club.example", "password": PASSWORD}
    assert browser.post(f"{INVITED}{code}", data={**taken, "again": PASSWORD}).status_code == 303
    assert "kim" in [one.person.name for one in accounts.everyone(store)]
