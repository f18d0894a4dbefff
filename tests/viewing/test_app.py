"""The page's server: for a browser that was let in, from its own page alone."""

from __future__ import annotations

from collections.abc import Iterator

import cv2
import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from starlette.testclient import TestClient

from feedscript.console.access import Access, Role
from feedscript.viewing.app import COOKIE, make_app
from tests.console.sent_along import as_its_page
from tests.viewing.looked import LOST, begun, finds
from tests.watch.clips.shown import Shown

ORIGIN = {"Origin": "http://testserver"}
POSTS = ("/pins", "/ends", "/yes", "/leave-out", "/back", "/said", "/finish")


class Stage:
    def __init__(self, one: Shown) -> None:
        self.viewing = begun(one, finds(one))
        self.access = Access(lambda: 0.0)
        self.done: list[bool] = []
        app = make_app(self.viewing, self.access, ("testserver",), lambda: self.done.append(True))
        self.client = TestClient(app)

    def pair(self) -> None:
        code = self.access.new_code(Role.COACH)
        done = self.client.post("/pair", json={"code": code, "name": "film"}, headers=ORIGIN)
        as_its_page(self.client, done)

    def say(self, address: str, body: object, **headers: str):
        return self.client.post(address, json=body, headers={**ORIGIN, **headers})

    def looked_for(self) -> None:
        assert self.say("/yes", {}).json()["stage"] in ("looking", "finds")
        assert self.viewing._thread is not None
        self.viewing._thread.join(20)


@pytest.fixture
def stage(one: Shown) -> Iterator[Stage]:
    stage = Stage(one)
    with stage.client:
        yield stage


def picture(data: bytes) -> np.ndarray:
    found = cv2.imdecode(np.frombuffer(data, np.uint8), cv2.IMREAD_COLOR)
    assert found is not None
    return found


def test_a_stranger_sees_the_pairing_page_and_nothing_of_the_film(stage: Stage) -> None:
    page = stage.client.get("/")
    assert 'id="pair"' in page.text
    assert 'id="over"' not in page.text
    for address in ("/told", "/stills/1.jpg", "/balls/0/flight.jpg"):
        assert stage.client.get(address).status_code == 401
    for address in POSTS:
        assert stage.say(address, {}).status_code == 401
    assert not stage.done


def test_another_page_asks_nothing_even_in_a_browser_that_was_let_in(stage: Stage) -> None:
    stage.pair()
    for address in POSTS:
        assert stage.say(address, {}, Origin="http://elsewhere.example").status_code == 403
    assert stage.client.get("/told", headers={"Host": "elsewhere.example"}).status_code == 400
    assert stage.viewing.stage == "court"


def test_nothing_comes_from_elsewhere_or_is_kept_by_the_browser(stage: Stage) -> None:
    stage.pair()
    for address in ("/", "/told", "/stills/1.jpg"):
        headers = stage.client.get(address).headers
        assert "default-src 'none'" in headers["content-security-policy"]
        assert headers["cache-control"] == "no-store"
        assert headers["cross-origin-resource-policy"] == "same-origin"


def test_the_film_is_looked_at_and_finished(stage: Stage) -> None:
    stage.pair()
    assert picture(stage.client.get("/stills/1.jpg").content).shape[:2] == (360, 640)
    pins = {"receiver t": [300.0, 200.0]}
    told = stage.say("/pins", {"pins": pins, "by_lines": False}).json()
    assert [one["px"] for one in told["court"]["points"] if one["shown"]] == [[300.0, 200.0]]
    assert stage.say("/pins", {"pins": {}}).json()["court"]["worst_cm"] < 5
    stage.looked_for()
    assert [one["number"] for one in stage.client.get("/told").json()["finds"]["cards"]] == [
        0,
        LOST,
    ]
    assert picture(stage.client.get("/balls/0/flight.jpg").content).shape[1] > 400
    assert picture(stage.client.get("/balls/0/bounce.jpg").content).shape[0] == 160
    for address in (
        "/stills/2.jpg",
        "/balls/0/whole.jpg",
        f"/balls/{LOST}/flight.jpg",
        "/balls/99/flight.jpg",
    ):
        assert stage.client.get(address).status_code == 404
    cards = stage.say("/said", {"number": 0, "said": "no"}).json()["finds"]["cards"]
    assert [one["said"] for one in cards] == ["no", None]
    assert not stage.done
    assert stage.say("/finish", {}).json()["stage"] == "done"
    assert stage.done == [True]
    assert stage.client.get("/balls/0/flight.jpg").status_code == 404  # nothing holds the end up


def test_words_come_in_the_language_of_the_browser(stage: Stage) -> None:
    stage.pair()
    german = stage.client.get("/told", headers={"Accept-Language": "de"}).json()
    words = {one["name"]: one["words"] for one in german["court"]["points"]}
    assert words["receiver t"] == "Mitte der Aufschlaglinie, Seite des Spielers"


@settings(max_examples=15, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    address=st.sampled_from(POSTS),
    body=st.one_of(
        st.binary(max_size=300),
        st.just(b"[" * 5000),
        st.just(b'{"pins": {"nowhere": [1, 2]}}'),
        st.just(b'{"pins": {"receiver t": [1e300, 2]}}'),
        st.just(b'{"number": 1e99, "said": "maybe"}'),
        st.just(b" " * 20_000),
    ),
)
def test_no_request_upsets_it(stage: Stage, address: str, body: bytes) -> None:
    if f"{COOKIE}_80" not in stage.client.cookies:
        stage.pair()
    answer = stage.client.post(address, content=body, headers=ORIGIN)
    assert answer.status_code in (200, 400, 413)
    if stage.viewing.stage != "court":
        stage.viewing.go_back()
