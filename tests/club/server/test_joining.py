"""A court's computer joins by a code of the head coach, once, and has a key from then on."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from starlette.testclient import TestClient

from feedscript.club.messages import EVENTS, INVITE, JOIN
from feedscript.club.server.app import make_app
from feedscript.club.server.club import Club
from feedscript.club.store import hosts
from feedscript.club.store.store import Store, open_store
from tests.club.server.stage import as_, who


@pytest.fixture(scope="module")
def store(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Store]:
    opened = open_store(Path(tmp_path_factory.mktemp("club")) / "club.sqlite")
    yield opened
    opened.close()


@pytest.fixture
def club(store: Store) -> TestClient:
    return TestClient(make_app(Club(store, who), ["testserver"]))


def invited(club: TestClient) -> str:
    answer = club.post(INVITE, json={}, headers=as_("head-coach"))
    assert answer.status_code == 200
    return str(answer.json()["code"])


def test_a_code_gives_a_computer_its_own_key_once(club: TestClient) -> None:
    code = invited(club)
    typed = code.lower().replace("-", " ")  # as a person may type it
    joined = club.post(JOIN, json={"code": typed, "name": "court one"})
    assert joined.status_code == 200
    bearer = {"Authorization": f"Bearer {joined.json()['key']}"}
    assert club.get(EVENTS, headers=bearer).json() == {"held": {}}
    again = club.post(JOIN, json={"code": code, "name": "court two"})
    assert again.status_code == 403
    assert again.json()["diagnostic"]["slug"] == "club-code-spent"


@pytest.mark.parametrize(
    ("sent", "status"),
    [
        ({"code": "ABCD-EFGH", "name": "court"}, 403),
        ({"code": "", "name": "court"}, 403),
        ({"code": "x", "name": ""}, 422),
        ({"code": "x", "name": "a" * 81}, 422),
        ({"code": "x", "name": "a\nb"}, 422),
        ({"code": "x" * 5000, "name": "court"}, 413),
        ({"code": "x", "name": "court", "role": "head-coach"}, 422),
        (["code"], 422),
    ],
)
def test_what_is_no_good_code_lets_nobody_in(club: TestClient, sent: object, status: int) -> None:
    answer = club.post(JOIN, json=sent)
    assert answer.status_code == status
    assert answer.json()["diagnostic"]["help"]


@pytest.mark.parametrize(
    ("headers", "status"),
    [
        ({}, 403),  # no page of this server
        (as_("head-coach") | {"Origin": "http://elsewhere"}, 403),
        (as_("nobody"), 401),
        (as_("viewer"), 403),
        (as_("coach"), 403),
    ],
)
def test_the_head_coach_alone_invites(
    club: TestClient, headers: dict[str, str], status: int
) -> None:
    assert club.post(INVITE, json={}, headers=headers).status_code == status


def test_another_name_of_this_machine_is_refused(club: TestClient) -> None:
    assert club.get("/health", headers={"Host": "elsewhere.example"}).status_code == 400


def test_the_server_says_whether_it_is_well(club: TestClient, store: Store) -> None:
    assert club.get("/health").json() == {"well": True}
    sick = Club(store, who)
    sick.fault = RuntimeError("a work has ended")
    assert TestClient(make_app(sick, ["testserver"])).get("/health").status_code == 503


def test_a_code_is_of_letters_that_nobody_mistakes(store: Store) -> None:
    letters = hosts.new_code(store, 100.0).replace("-", "")
    assert len(letters) == hosts.CODE_LENGTH
    assert set(letters) <= set(hosts.ALPHABET)
