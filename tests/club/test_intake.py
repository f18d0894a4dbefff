"""The door: a court's key opens it for the court's own events, in order, and for nothing else."""

from __future__ import annotations

import json
from typing import Any

import anyio
import msgspec
import pytest
from starlette.applications import Starlette
from starlette.testclient import TestClient
from starlette.types import Message

from feedscript.club.batch import MOST_BODY_BYTES, Batch, Part
from feedscript.club.intake import Intake
from feedscript.club.messages import EVENTS
from feedscript.club.store import hosts
from feedscript.club.store.hosts import host_of
from feedscript.club.store.log import held
from feedscript.club.store.store import Store
from tests.club.conftest import BOTH
from tests.club.lessons import LESSON, court, part


@pytest.fixture
def door(store: Store) -> TestClient:
    app = Starlette(routes=Intake(store, lambda: 9.0).routes())
    return TestClient(app, headers={"Authorization": f"Bearer {court(store).key}"})


def body(*parts: Part) -> bytes:
    return msgspec.json.encode(Batch(parts))


def changed(**fields: Any) -> bytes:
    """A good batch with some fields of its one event made otherwise."""
    batch = json.loads(body(part(1, 1)))
    batch["parts"][0]["events"][0] |= fields
    return json.dumps(batch).encode()


def test_events_are_taken_and_the_highest_number_is_answered(door: TestClient) -> None:
    answer = door.post(EVENTS, content=body(part(1, 5), part(1, 2, "2-0000beef")))
    assert answer.status_code == 200
    assert answer.json() == {"held": {LESSON: 5, "2-0000beef": 2}}
    assert door.get(EVENTS).json() == answer.json()


@BOTH
def test_a_gap_is_answered_with_the_number_wanted(door: TestClient) -> None:
    door.post(EVENTS, content=body(part(1, 5)))
    answer = door.post(EVENTS, content=body(part(9, 12)))
    assert answer.status_code == 409
    assert answer.json()["wanted"] == 6
    assert answer.json()["diagnostic"]["slug"] == "club-batch-refused"


@pytest.mark.parametrize(
    "sent",
    [
        b"",
        b"\xff",
        b"[]",
        b'{"parts": [{}]}',
        changed(number=0),
        changed(number=2**31),
        changed(utc_s=-1.0),
        changed(kind="Said; DROP TABLE event"),
        changed(data="no object"),
        changed(data='["no object"]'),
        changed(data='{"a": "\x00"}'),
        changed(more="than is known"),
        changed(host="another court"),
        body(part(1, 1, "../../etc")),
        body(part(1, 1), part(2, 2)),
        changed(data=json.dumps({"a": "x" * 100_000})),
        b"[" * 100_000,
        changed(data='{"a": ' + "[" * 99_000),
    ],
)
def test_what_is_not_a_batch_is_refused_with_a_diagnostic(
    door: TestClient, store: Store, sent: bytes
) -> None:
    answer = door.post(EVENTS, content=sent)
    assert answer.status_code == 422
    assert answer.json()["diagnostic"]["slug"] == "club-batch-refused"
    assert door.get(EVENTS).json() == {"held": {}}


def test_what_is_too_large_is_read_no_further(door: TestClient) -> None:
    def endless() -> Any:
        for _ in range(2 * MOST_BODY_BYTES // 1_000_000):
            yield b" " * 1_000_000

    assert door.post(EVENTS, content=endless()).status_code == 413


def test_names_with_statements_and_script_in_them_are_only_text(door: TestClient) -> None:
    odd = "Robin'); DROP TABLE event; -- <script>alert(1)</script> \u202e"
    header = msgspec.structs.replace(part(1, 1).header, title=odd)
    answer = door.post(EVENTS, content=body(part(1, 1, header=header)))
    assert answer.status_code == 200
    assert door.get(EVENTS).json() == {"held": {LESSON: 1}}


@pytest.mark.parametrize("header", ["", "Bearer ", "Bearer guessed", "Basic x", "Bearer \xff"])
def test_a_stranger_is_refused(door: TestClient, header: str) -> None:
    for method in ("GET", "POST"):
        answer = door.request(method, EVENTS, headers={"Authorization": header.encode("latin-1")})
        assert answer.status_code == 401
        assert answer.json()["diagnostic"]["slug"] == "club-host-unknown"


def test_one_court_cannot_write_into_anothers_lesson(door: TestClient, store: Store) -> None:
    door.post(EVENTS, content=body(part(1, 5)))
    other = court(store, "court two")
    posing = {"Authorization": f"Bearer {other.key}"}
    answer = door.post(EVENTS, content=body(part(6, 6, header=None)), headers=posing)
    assert answer.status_code == 409
    assert held(store, other.host) == {}
    assert door.get(EVENTS).json() == {"held": {LESSON: 5}}


def test_a_withdrawn_court_is_refused(door: TestClient, store: Store) -> None:
    other = court(store, "court two")
    hosts.withdraw(store, other.host, 60.0)
    answer = door.get(EVENTS, headers={"Authorization": f"Bearer {other.key}"})
    assert answer.status_code == 401


@BOTH
def test_a_store_that_is_gone_is_not_the_courts_mistake(door: TestClient, store: Store) -> None:
    with store.writing() as connection:
        connection.exec_driver_sql("ALTER TABLE event RENAME TO elsewhere")
    answer = door.post(EVENTS, content=body(part(1, 5)))
    assert answer.status_code == 503
    assert answer.json()["diagnostic"]["slug"] == "club-store-unusable"
    with store.writing() as connection:
        connection.exec_driver_sql("ALTER TABLE elsewhere RENAME TO event")
    assert door.post(EVENTS, content=body(part(1, 5))).status_code == 200


def test_a_court_that_goes_in_the_middle_of_a_batch_troubles_nobody(
    door: TestClient, store: Store
) -> None:
    """Its network may break at any letter."""
    said: list[Message] = []
    received = iter(({"type": "http.request", "body": b"{", "more_body": True},))

    async def receive() -> Message:
        return next(received, {"type": "http.disconnect"})

    async def send(message: Message) -> None:
        said.append(message)

    scope = {
        "type": "http", "method": "POST", "path": EVENTS, "query_string": b"",
        "headers": [(b"authorization", door.headers["Authorization"].encode())],
    }  # fmt: skip
    anyio.run(door.app, scope, receive, send)
    assert said[0]["status"] == 400
    assert held(store, host_of(store, door.headers["Authorization"].split()[1]) or "") == {}
