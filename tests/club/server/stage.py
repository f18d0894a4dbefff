"""A server of a club with invented courts, and whoever asks it."""

from __future__ import annotations

from typing import Any

from starlette.requests import HTTPConnection
from starlette.testclient import TestClient, WebSocketTestSession

from feedscript.club.messages import LIVE, NEWS, STOP
from feedscript.club.server.app import make_app
from feedscript.club.server.club import Club
from feedscript.club.store import hosts
from feedscript.club.store.store import Store
from feedscript.club.who import Person, Role

ORIGIN = "http://testserver"
PEOPLE = {role: Person(id=role, name=f"the {role}", role=role) for role in Role}


def who(asks: HTTPConnection) -> Person | None:
    """The tests' own way of saying who asks."""
    return PEOPLE.get(asks.headers.get("x-role", ""))  # type: ignore[call-overload]


def server(store: Store) -> TestClient:
    """To be entered: then the news flows."""
    return TestClient(make_app(Club(store, who), ["testserver"]))


def as_(role: str) -> dict[str, str]:
    """What a page of this server sends along for somebody of this role."""
    return {"Origin": ORIGIN, "x-role": role}


def socket_of(client: TestClient, court: hosts.Joined) -> WebSocketTestSession:
    """A court's socket."""
    return client.websocket_connect(LIVE, headers={"Authorization": f"Bearer {court.key}"})


def news_for(client: TestClient, role: str = Role.COACH) -> WebSocketTestSession:
    return client.websocket_connect(NEWS, headers=as_(role))


def stop(client: TestClient, court: hosts.Joined, role: str = Role.COACH) -> Any:
    return client.post(STOP, json={"host": court.host}, headers=as_(role))


def next_of(socket: WebSocketTestSession, kind: str, **fields: Any) -> dict[str, Any]:
    """The next message of this kind in which these fields are so; what comes before is passed."""
    for _ in range(1000):
        told: dict[str, Any] = socket.receive_json()
        if told["type"] == kind and fields.items() <= told.items():
            return told
    raise AssertionError(f"no {kind} with {fields} came")
