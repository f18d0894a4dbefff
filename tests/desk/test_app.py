"""The desk's server: for a paired browser of its own page alone, and for the open program alone."""

from __future__ import annotations

import json
from collections.abc import Iterator
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from starlette.testclient import TestClient
from starlette.websockets import WebSocketDisconnect

from feedscript.console.access import Access, Role
from feedscript.desk.app import COOKIE, Desk, make_app
from feedscript.desk.files import Folder
from feedscript.told_units import METRIC, SYSTEMS, tell_in
from tests.console.sent_along import as_its_page

ORIGIN = {"Origin": "http://testserver"}
WORDS = 'feedscript 1\ntitle "Mine"\n'


class Stage:
    def __init__(self, root: Path) -> None:
        self.root = root
        self.access = Access(lambda: 0.0)
        self.client = TestClient(make_app(Desk(Folder(root), self.access), ("testserver",)))

    def pair(self, role: Role = Role.COACH) -> None:
        code = self.access.new_code(role)
        done = self.client.post("/pair", json={"code": code, "name": "laptop"}, headers=ORIGIN)
        as_its_page(self.client, done)

    def save(self, name: str, words: str, based_on: str = "", **headers: str):
        return self.client.put(
            f"/programs/{name}",
            json={"words": words, "based_on": based_on},
            headers={**ORIGIN, **headers},
        )


@pytest.fixture
def stage(tmp_path: Path) -> Iterator[Stage]:
    stage = Stage(tmp_path)
    with stage.client:
        yield stage


def test_a_stranger_sees_the_pairing_page_and_no_program(stage: Stage) -> None:
    assert "Pair this device" in stage.client.get("/").text
    for path in ("/programs", "/programs/shipped/wednesday-six", "/programs/a/versions"):
        assert stage.client.get(path).status_code == 401
    for path in (
        "/played/shipped/wednesday-six",
        "/tried/a",
        "/papers/sheet/shipped/wednesday-six",
    ):
        assert stage.client.get(path).status_code == 401
    assert stage.save("a", WORDS).status_code == 401
    with (
        pytest.raises(WebSocketDisconnect),
        stage.client.websocket_connect("/words/shipped/wednesday-six", headers=ORIGIN),
    ):
        pass
    assert list(stage.root.iterdir()) == []


def test_a_browser_that_only_looks_writes_nothing(stage: Stage) -> None:
    stage.pair(Role.VIEWER)
    assert stage.save("a", WORDS).status_code == 401
    assert list(stage.root.iterdir()) == []


def test_another_page_writes_nothing_even_in_a_paired_browser(stage: Stage) -> None:
    stage.pair()
    assert stage.save("a", WORDS, Origin="http://elsewhere.example").status_code == 403
    assert stage.client.get("/programs", headers={"Host": "elsewhere.example"}).status_code == 400
    with (
        pytest.raises(WebSocketDisconnect),
        stage.client.websocket_connect(
            "/words/shipped/wednesday-six", headers={"Origin": "http://elsewhere.example"}
        ),
    ):
        pass
    assert list(stage.root.iterdir()) == []


def test_the_page_lets_no_other_script_or_style_in(stage: Stage) -> None:
    stage.pair()
    first, second = stage.client.get("/"), stage.client.get("/")
    policy = first.headers["content-security-policy"]
    assert "default-src 'none'; script-src 'self'; style-src 'self' 'nonce-" in policy
    assert "unsafe" not in policy
    assert policy != second.headers["content-security-policy"], "each page has its own nonce"
    assert policy.split("'nonce-")[1].split("'")[0] in first.text


def test_the_page_is_told_the_units_that_are_set(stage: Stage) -> None:
    stage.pair()
    assert 'data-units="metric"' in stage.client.get("/").text
    tell_in(SYSTEMS["imperial"])
    try:
        assert 'data-units="imperial"' in stage.client.get("/").text
    finally:
        tell_in(METRIC)


def test_words_are_saved_kept_and_had_again(stage: Stage) -> None:
    stage.pair()
    first = stage.save("my lesson", WORDS).json()
    opened = stage.client.get("/programs/my lesson").json()
    assert (opened["words"], opened["version"]) == (WORDS, first["version"])
    assert stage.save("my lesson", WORDS + "# more\n", first["version"]).status_code == 200
    late = stage.save("my lesson", WORDS + "# late\n", first["version"])
    assert late.json()["now"]["words"] == WORDS + "# more\n"
    newest, oldest = stage.client.get("/programs/my lesson/versions").json()
    again = stage.client.get(f"/programs/my lesson/versions/{oldest['version']}").json()
    assert again["words"] == WORDS
    assert newest["saved"] >= oldest["saved"]


def test_a_refusal_says_why_and_what_to_do(stage: Stage) -> None:
    stage.pair()
    answer = stage.save("no/such/place", WORDS)
    assert answer.status_code == 404
    assert answer.json()["refused"]["help"] == "write a name such as `tuesday juniors`"
    assert stage.client.get("/programs/nobody").json()["refused"]["slug"] == "no-such-program"


@given(body=st.binary(max_size=200))
@settings(
    max_examples=60, suppress_health_check=[HealthCheck.function_scoped_fixture], deadline=None
)
def test_no_request_is_answered_by_a_fault(stage: Stage, body: bytes) -> None:
    if f"{COOKIE}_80" not in stage.client.cookies:
        stage.pair()
    answer = stage.client.put("/programs/a", content=body, headers=ORIGIN)
    assert answer.status_code in (200, 400)


class Words:
    """An editor's side of the socket."""

    def __init__(self, socket, uri: str) -> None:
        self.socket, self.uri, self.number = socket, uri, 0

    def ask(self, method: str, **params: object) -> dict:
        self.number += 1
        asked = {"jsonrpc": "2.0", "id": self.number, "method": method, "params": params}
        self.socket.send_text(json.dumps(asked))
        return self.until(lambda told: told.get("id") == self.number)

    def tell(self, method: str, **params: object) -> None:
        self.socket.send_text(json.dumps({"jsonrpc": "2.0", "method": method, "params": params}))

    def until(self, wanted) -> dict:
        while not wanted(told := json.loads(self.socket.receive_text())):
            pass
        return told

    def open(self, words: str) -> None:
        self.ask("initialize", capabilities={}, processId=None, rootUri=None)
        self.tell("initialized")
        document = {"uri": self.uri, "languageId": "feedscript", "version": 1, "text": words}
        self.tell("textDocument/didOpen", textDocument=document)


def test_the_open_program_is_checked_and_seen(stage: Stage) -> None:
    stage.pair()
    opened = stage.client.get("/programs/shipped/wednesday-six").json()
    with stage.client.websocket_connect("/words/shipped/wednesday-six", headers=ORIGIN) as socket:
        words = Words(socket, opened["uri"])
        words.open(opened["words"])
        told = words.until(lambda told: told.get("method") == "feedscript/seen")
        told = told["params"]
        assert told["seen"]["ok"]
        names = [feed["name"] for feed in told["feeds"]]
        assert {feed["wish"] for feed in told["feeds"]} >= {"deep_forehand", "short_middle"}
        place, _ = told["places"][names.index("deep_forehand")]
        start, end = place["start"], place["end"]
        assert opened["words"][start:end].startswith("feed deep_forehand {")
        broken = opened["words"].replace("78 km/h", "178 km/h")
        identifier = {"uri": opened["uri"], "version": 2}
        words.tell(
            "textDocument/didChange", textDocument=identifier, contentChanges=[{"text": broken}]
        )
        told = words.until(lambda told: told.get("method") == "feedscript/seen")
        assert not told["params"]["seen"]["ok"]
        new = [feed for feed in told["params"]["feeds"] if not isinstance(feed, int)]
        assert any(feed["wrong"] for feed in new)
        assert len(new) < len(names)


STRANGE = (
    ("feedscript/reorder", {"step": "first", "to": 2}),
    ("feedscript/reorder", {"step": 1, "to": 2, "and": 3}),
    ("feedscript/stretch", {"step": 1, "number": 0, "to": None}),
    ("feedscript/stretch", [1, 0, 12]),
)


def test_strange_questions_about_the_hour_are_answered_by_what_is_strange(stage: Stage) -> None:
    stage.pair()
    opened = stage.client.get("/programs/shipped/wednesday-six").json()
    with stage.client.websocket_connect("/words/shipped/wednesday-six", headers=ORIGIN) as socket:
        words = Words(socket, opened["uri"])
        words.open(opened["words"])
        document = {"textDocument": {"uri": opened["uri"]}}
        for number, (method, wanted) in enumerate(STRANGE, 1000):
            about = {"jsonrpc": "2.0", "id": number, "method": method}
            socket.send_text(json.dumps(about | {"params": document | {"wanted": wanted}}))
            answer = words.until(lambda told, number=number: told.get("id") == number)
            assert answer["error"]["code"] == -32602, (method, wanted)
        about = {"jsonrpc": "2.0", "id": 2000, "method": "feedscript/hour"}
        socket.send_text(json.dumps(about | {"params": document | {"wanted": None}}))
        line = words.until(lambda told: told.get("id") == 2000)["result"]
        assert [one["step"] for one in line["blocks"]] == list(range(10))


@pytest.mark.parametrize(
    "raw",
    [
        "no json",
        "[]",
        '"words"',
        '{"jsonrpc": "2.0", "method": "textDocument/didOpen", "params": {"textDocument": '
        '{"uri": "file:///etc/passwd", "languageId": "feedscript", "version": 1, "text": ""}}}',
        '{"jsonrpc": "2.0", "id": 7, "method": "textDocument/hover", "params": {"textDocument": '
        '{"uri": 5}, "position": {"line": 0, "character": 0}}}',
        "[" * 5000,
    ],
)
def test_a_page_that_asks_for_another_file_or_talks_strangely_is_let_go(
    stage: Stage, raw: str
) -> None:
    stage.pair()
    with stage.client.websocket_connect("/words/shipped/wednesday-six", headers=ORIGIN) as socket:
        socket.send_text(raw)
        with pytest.raises(WebSocketDisconnect):
            read_on(socket)


def read_on(socket) -> None:
    while True:
        socket.receive_text()


ANSWERS = {"players": 2, "who": "club", "minutes": 30, "balls": 75, "launchers": ["garage.toml"]}


def test_a_first_lesson_is_words_for_the_page_and_nothing_is_written(stage: Stage) -> None:
    assert stage.client.get("/first-lesson").status_code == 401
    assert stage.client.post("/first-lesson", json=ANSWERS, headers=ORIGIN).status_code == 401
    stage.pair()
    assert "depth" in stage.client.get("/first-lesson").json()["themes"]
    elsewhere = {"Origin": "http://elsewhere.example"}
    assert stage.client.post("/first-lesson", json=ANSWERS, headers=elsewhere).status_code == 403
    told = stage.client.post("/first-lesson", json=ANSWERS, headers=ORIGIN).json()
    assert told["words"].startswith("feedscript 1")
    assert list(stage.root.iterdir()) == []
    none = stage.client.post("/first-lesson", json={**ANSWERS, "players": 0}, headers=ORIGIN)
    assert none.json()["refused"]["slug"] == "no-first-lesson"
    odd = stage.client.post("/first-lesson", json={**ANSWERS, "run": True}, headers=ORIGIN)
    assert odd.status_code == 400


def test_what_passes_is_put_on_paper_and_nothing_else(stage: Stage) -> None:
    stage.pair()
    sheet = stage.client.get("/papers/sheet/shipped/wednesday-six")
    assert sheet.status_code == 200
    assert "Wednesday six" in sheet.text
    assert "script-src" not in sheet.headers["content-security-policy"], "no script at all"
    assert stage.client.get("/papers/cards/shipped/wednesday-six").status_code == 200
    stage.save("half", WORDS)
    refused = stage.client.get("/papers/sheet/half")
    assert refused.status_code == 409
    assert refused.json()["refused"]["help"] == "mend it first, then print it"
    assert stage.client.get("/papers/poster/shipped/wednesday-six").status_code == 404


def test_what_passes_is_played_from_the_words_that_are_saved(stage: Stage) -> None:
    stage.pair()
    version = stage.client.get("/programs/shipped/wednesday-six").json()["version"]
    run = stage.client.get("/played/shipped/wednesday-six").json()
    assert (run["version"], len(run["balls"])) == (version, 349)
    stage.save("half", WORDS)
    refused = stage.client.get("/played/half")
    assert refused.status_code == 409
    assert refused.json()["refused"]["help"] == "mend it first, then play it"
    assert stage.client.get("/played/nobody").status_code == 409
    assert stage.client.get("/tried/half?what=jam").status_code == 409
    assert stage.client.get("/tried/half?what=rust").status_code == 404
