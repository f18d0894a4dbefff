"""A court's socket: STOP goes down, and nobody is told that it stopped before the court says so."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from starlette.testclient import TestClient
from starlette.websockets import WebSocketDisconnect

from feedscript.club.messages import EVENTS, LIVE, NEWS
from feedscript.club.store import hosts
from feedscript.club.store.store import Store, open_store
from tests.club.lessons import LESSON, court, part
from tests.club.server.stage import as_, news_for, next_of, server, socket_of, stop
from tests.club.test_intake import body


@pytest.fixture(scope="module")
def store(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Store]:
    opened = open_store(Path(tmp_path_factory.mktemp("club")) / "club.sqlite")
    yield opened
    opened.close()


@pytest.fixture
def club(store: Store) -> Iterator[TestClient]:
    with server(store) as client:
        yield client


@pytest.fixture
def door(store: Store) -> TestClient:
    """The same without news: enough to be refused by."""
    return server(store)


@pytest.fixture
def one(store: Store) -> hosts.Joined:
    return court(store)


def alive(socket: Any, **fields: Any) -> None:
    socket.send_json({"type": "alive", **fields})
    assert next_of(socket, "here")


def test_a_stop_is_told_as_asked_then_heard_then_stopped(
    club: TestClient, one: hosts.Joined
) -> None:
    with socket_of(club, one) as host, news_for(club) as page:
        asked = stop(club, one)
        assert (asked.status_code, asked.json()["state"]) == (202, "asked")
        order = next_of(host, "stop")
        assert order == {"type": "stop", "order": asked.json()["order"], "by": "the coach"}
        assert next_of(page, "stop", host=one.host)["state"] == "asked"
        host.send_json({"type": "stop-heard", "order": order["order"]})
        assert next_of(page, "stop", host=one.host)["state"] == "heard"
        host.send_json({"type": "stop-ended", "order": order["order"], "stopped": True})
        assert next_of(page, "stop", host=one.host)["state"] == "stopped"


def test_a_court_says_that_there_was_nothing_to_stop(club: TestClient, one: hosts.Joined) -> None:
    with socket_of(club, one) as host, news_for(club) as page:
        order = stop(club, one).json()["order"]
        says = "no lesson runs"
        host.send_json({"type": "stop-ended", "order": order, "stopped": False, "says": says})
        told = next_of(page, "stop", order=order, state="nothing")
        assert told["says"] == says
        # Neither an older word nor another last one changes it.
        host.send_json({"type": "stop-heard", "order": order})
        host.send_json({"type": "stop-ended", "order": order, "stopped": True})
        alive(host)
    with news_for(club) as page:
        assert next_of(page, "stop", order=order)["state"] == "nothing"


def test_a_court_that_comes_back_is_told_of_the_stop_that_it_missed(
    club: TestClient, one: hosts.Joined
) -> None:
    order = stop(club, one).json()["order"]
    with socket_of(club, one) as host:
        assert next_of(host, "stop")["order"] == order


def test_one_court_cannot_answer_for_another(
    club: TestClient, store: Store, one: hosts.Joined
) -> None:
    other = court(store, "court two")
    with socket_of(club, one) as host, socket_of(club, other) as liar, news_for(club) as page:
        order = stop(club, one).json()["order"]
        liar.send_json({"type": "stop-ended", "order": order, "stopped": True})
        alive(liar)
        host.send_json({"type": "stop-heard", "order": order})
        next_of(page, "stop", order=order, state="asked")
        assert next_of(page, "stop", order=order)["state"] == "heard"


@pytest.mark.parametrize(
    ("role", "status"), [("nobody", 401), ("viewer", 403), ("coach", 202), ("head-coach", 202)]
)
def test_coaches_stop_and_nobody_else(
    door: TestClient, one: hosts.Joined, role: str, status: int
) -> None:
    assert stop(door, one, role).status_code == status


def test_a_court_that_there_is_not_cannot_be_stopped(door: TestClient) -> None:
    answer = stop(door, hosts.Joined("nonesuch", ""))
    assert answer.status_code == 404
    assert answer.json()["diagnostic"]["slug"] == "club-court-unknown"


def test_a_court_is_shown_as_heard_with_what_it_says(club: TestClient, one: hosts.Joined) -> None:
    with socket_of(club, one) as host, news_for(club) as page:
        while True:  # it has just joined: its name comes with the next look into the store
            alive(host, lesson=LESSON, waiting=3)
            told = next_of(page, "court", host=one.host)
            if told["heard"]:
                break
        assert told["name"] == "court one"
        assert (told["lesson"], told["waiting"]) == (LESSON, 3)


def test_what_happened_is_told_without_what_only_some_may_read(
    club: TestClient, one: hosts.Joined
) -> None:
    with news_for(club, "viewer") as page:
        bearer = {"Authorization": f"Bearer {one.key}"}
        assert club.post(EVENTS, content=body(part(1, 3)), headers=bearer).status_code == 200
        told = next_of(page, "happened", host=one.host)
    assert [event["number"] for event in told["events"]] == [1, 2, 3]
    assert {event["data"] for event in told["events"]} == {"{}"}


@pytest.mark.parametrize("key", ["", "Bearer ", "Bearer guessed", "Basic x"])
def test_a_stranger_has_no_socket(door: TestClient, key: str) -> None:
    with (
        pytest.raises(WebSocketDisconnect),
        door.websocket_connect(LIVE, headers={"Authorization": key}),
    ):
        pass


@pytest.mark.parametrize(
    "headers", [as_("nobody"), {"x-role": "coach"}, as_("coach") | {"Origin": "http://elsewhere"}]
)
def test_only_a_page_of_somebody_known_hears_the_news(
    door: TestClient, headers: dict[str, str]
) -> None:
    with pytest.raises(WebSocketDisconnect), door.websocket_connect(NEWS, headers=headers):
        pass


@pytest.mark.parametrize(
    "said",
    ["", "{", "[]", '{"type": "arm"}', '{"type": "alive", "lesson": "../etc"}', "[" * 5000,
     '{"type": "stop-heard", "order": "' + "0" * 5000 + '"}'],
)  # fmt: skip
def test_a_court_that_says_what_none_says_is_let_go(
    door: TestClient, one: hosts.Joined, said: str
) -> None:
    with socket_of(door, one) as host:
        host.send_text(said)
        with pytest.raises(WebSocketDisconnect):
            next_of(host, "never")
