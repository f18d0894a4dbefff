"""Courts ask whom to forget with their own key, and are believed when they say that they have."""

from __future__ import annotations

import msgspec
import pytest
from starlette.applications import Starlette
from starlette.testclient import TestClient

from feedscript.club.batch import Batch, Part
from feedscript.club.intake import Intake
from feedscript.club.messages import EVENTS
from feedscript.club.people.telling import Telling
from feedscript.club.store.hosts import Joined
from feedscript.club.store.people import audit, forgotten
from feedscript.club.store.store import Store
from feedscript.club.tombstones import FORGOTTEN, Tombstones
from tests.club.lessons import court
from tests.club.people.conftest import files_of
from tests.club.people.played import lesson


@pytest.fixture
def client(store: Store) -> TestClient:
    return TestClient(Starlette(routes=[*Telling(store).routes(), *Intake(store).routes()]))


def key_of(joined: Joined) -> dict[str, str]:
    return {"Authorization": f"Bearer {joined.key}"}


def asked(client: TestClient, joined: Joined) -> Tombstones:
    answer = client.get(FORGOTTEN, headers=key_of(joined))
    return msgspec.json.decode(answer.content, type=Tombstones)


def test_a_court_is_told_until_it_says_that_it_obeyed(client: TestClient, store: Store) -> None:
    one, other = court(store), court(store, "court two")
    assert asked(client, one).stones == ()
    forgotten.forget(store, "Ada", 20.0)
    told = asked(client, one)
    assert list(told.names_in("ADA is on")) == ["ADA"]
    for number in (told.last, told.last):
        done = client.post(FORGOTTEN, json={"number": number}, headers=key_of(one))
        assert done.status_code == 200
    assert asked(client, one).stones == ()
    assert asked(client, other).stones == told.stones
    with store.reading() as connection:
        assert {one.who for one in audit.entries(connection, 9)} == {"court one"}


def test_a_court_cannot_obey_what_it_was_not_told(client: TestClient, store: Store) -> None:
    one = court(store)
    forgotten.forget(store, "Ada", 20.0)
    for body in ({"number": 2}, {"number": -1}, {"number": "1"}, {}, {"number": 1, "host": "x"}):
        assert client.post(FORGOTTEN, json=body, headers=key_of(one)).status_code == 422
    assert len(asked(client, one).stones) == 1


def test_a_stranger_is_told_nothing(client: TestClient, store: Store) -> None:
    forgotten.forget(store, "Ada", 20.0)
    for headers in ({}, {"Authorization": "Bearer guessed"}):
        assert client.get(FORGOTTEN, headers=headers).status_code == 401
        assert client.post(FORGOTTEN, json={"number": 1}, headers=headers).status_code == 401


@pytest.mark.parametrize("told_before", [True, False])
def test_nesting_without_end_hides_no_name(
    client: TestClient, store: Store, told_before: bool
) -> None:
    """Nothing of ours is nested so; what is, is taken as a text like any other."""
    one = court(store)
    if told_before:
        forgotten.forget(store, "Quatermain", 20.0)
    part = lesson("Quatermain", "Ben")
    assert part.header is not None
    for number, (begin, end) in enumerate((("[", "]"), ('{"a":', "}")), 1):
        deep = begin * 600 + '"Quatermain"' + end * 600
        head = msgspec.structs.replace(part.header, plan=deep, group_json=deep)
        batch = Batch((Part(lesson=f"{number}-0000beef", header=head, events=part.events),))
        answer = client.post(EVENTS, content=msgspec.json.encode(batch), headers=key_of(one))
        assert answer.status_code == 200
    if not told_before:
        forgotten.forget(store, "Quatermain", 20.0)
    assert b"Quatermain" not in files_of(store)
