"""What somebody who was not invited may try: all of it is refused, and nothing changes."""

from __future__ import annotations

import json

import anyio
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from starlette.websockets import WebSocketDisconnect

from feedscript.console.access import COOKIE, Role
from feedscript.console.messages import MOST_BYTES, read_message
from feedscript.session.operator.commands import SimpleCommand
from feedscript.session.operator.phases import Act
from tests.console.conftest import ORIGIN, Stage

HOLD = {"do": "act", "act": "hold"}
STOP = {"do": "act", "act": "stop"}


def opened(stage: Stage, **headers: str):
    return stage.client.websocket_connect("/live", headers={"Origin": ORIGIN, **headers})


def first_words(socket) -> dict:
    told: dict = {}
    while "view" not in told:
        told |= json.loads(socket.receive_text())
    return told


def command(socket, word: str, count: int, order: dict) -> dict | None:
    """Send one command; the refusal if one comes within two signs of life."""
    socket.send_text(json.dumps({"socket": word, "count": count, "command": order}))
    for _ in range(3):
        told = json.loads(socket.receive_text())
        if "refused" in told:
            return told["refused"]
    return None


def read_on(socket) -> None:
    while True:
        socket.receive_text()


def take_control(socket, word: str, count: int) -> None:
    socket.send_text(json.dumps({"socket": word, "count": count, "control": True}))
    while not json.loads(socket.receive_text()).get("control"):
        pass


def test_without_a_cookie_there_is_only_the_pairing_page(stage: Stage) -> None:
    page = stage.client.get("/").text
    assert "Pair this device" in page
    assert "STOP" not in page
    assert "Pair this device" in stage.client.get("/group").text
    with pytest.raises(WebSocketDisconnect), opened(stage):
        pass
    for path in ("/stop", "/codes"):
        assert stage.client.post(path, json={}, headers={"Origin": ORIGIN}).status_code == 401
    assert stage.lesson.told == []


def test_a_made_up_cookie_is_no_cookie(stage: Stage) -> None:
    stage.client.cookies.set(f"{COOKIE}_80", "made-up")
    assert "Pair this device" in stage.client.get("/").text
    with pytest.raises(WebSocketDisconnect), opened(stage):
        pass


def test_a_stale_code_pairs_nobody(stage: Stage) -> None:
    code = stage.access.new_code(Role.COACH)
    stage.access.new_code(Role.COACH)
    answer = stage.client.post("/pair", json={"code": code}, headers={"Origin": ORIGIN})
    assert answer.status_code == 403
    assert answer.json()["refused"]["slug"] == "not-paired"
    assert not answer.cookies


def test_the_cookie_is_out_of_reach_of_scripts_and_other_sites(stage: Stage) -> None:
    answer = stage.client.post(
        "/pair", json={"code": stage.access.new_code(Role.COACH)}, headers={"Origin": ORIGIN}
    )
    cookie = answer.headers["set-cookie"].lower()
    assert "httponly" in cookie
    assert "samesite=strict" in cookie


@pytest.mark.parametrize(
    "origin", ["http://elsewhere.example", "null", "", "http://testserver.evil"]
)
def test_a_page_of_another_origin_gets_nothing(origin: str, stage: Stage) -> None:
    stage.pair(Role.COACH)
    with pytest.raises(WebSocketDisconnect), opened(stage, Origin=origin):
        pass
    for path in ("/stop", "/codes", "/pair"):
        assert stage.client.post(path, json={}, headers={"Origin": origin}).status_code == 403
    assert stage.lesson.told == []


def test_a_request_without_an_origin_is_no_page_of_ours(stage: Stage) -> None:
    stage.pair(Role.COACH)
    assert stage.client.post("/stop", json={}).status_code == 403
    with pytest.raises(WebSocketDisconnect), stage.client.websocket_connect("/live"):
        pass


def test_another_host_name_is_refused(stage: Stage) -> None:
    for path in ("/", "/static/style.css"):
        assert stage.client.get(path, headers={"Host": "rebound.example"}).status_code == 400


def test_a_message_copied_to_another_socket_or_sent_again_does_nothing(stage: Stage) -> None:
    stage.pair(Role.COACH)
    with opened(stage) as socket:
        word = first_words(socket)["socket"]
        take_control(socket, word, 1)
        assert command(socket, word, 2, HOLD) is None
        assert len(stage.lesson.told) == 1
        command(socket, word, 2, HOLD)  # the same again
        command(socket, word, 1, HOLD)  # an older one
        assert len(stage.lesson.told) == 1
    with opened(stage) as later:
        assert first_words(later)["socket"] != word
        command(later, word, 3, HOLD)  # the other socket's word
        assert len(stage.lesson.told) == 1


@pytest.mark.parametrize(
    "path",
    [
        "/static/../app.py",
        "/static/%2e%2e/app.py",
        "/static/..%2fapp.py",
        "/static/....//app.py",
        "/static//etc/passwd",
        "/static/%00",
        "/.git/config",
        "/live",
        "/static/",
    ],
)
def test_paths_lead_nowhere_else(path: str, stage: Stage) -> None:
    answer = stage.client.get(path)
    assert answer.status_code in (400, 404, 405)
    assert "import" not in answer.text


@pytest.mark.parametrize("path", ["/pair", "/stop", "/codes"])
@pytest.mark.parametrize(
    ("body", "status"),
    [
        (b"x" * (MOST_BYTES + 1), 413),
        (b"\xff\xfe", 400),
        (b"[" * 1500, 400),
        (b"null", 400),
        (b'{"unknown": 1}', 400),
        (b'{"code": 7, "emergency": 7, "viewer": 7}', 400),
    ],
)
def test_bodies_too_long_or_of_the_wrong_shape_are_refused(
    path: str, body: bytes, status: int, stage: Stage
) -> None:
    stage.pair(Role.COACH)
    answer = stage.client.post(path, content=body, headers={"Origin": ORIGIN})
    assert answer.status_code == status
    assert stage.lesson.told == []


@pytest.mark.parametrize("text", ["x" * 100_000, "{}", "[]", "[" * 2000, "\x00", '{"count": 1}'])
def test_a_page_that_speaks_nonsense_is_let_go(text: str, stage: Stage) -> None:
    stage.pair(Role.COACH)
    with opened(stage) as socket:
        for _ in range(6):
            socket.send_text(text)
        with pytest.raises(WebSocketDisconnect):
            read_on(socket)
    assert stage.lesson.told == []


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.one_of(st.text(), st.binary()))
def test_no_bytes_are_a_message_by_chance(sent: str | bytes) -> None:
    assert read_message(sent) is None


def test_a_viewer_sees_nothing_private_and_starts_nothing(stage: Stage) -> None:
    stage.pair(Role.VIEWER)
    with opened(stage) as socket:
        told = first_words(socket)
        assert "PRIVATE" not in json.dumps(told)
        assert "private" not in told["view"]
        word = told["socket"]
        refused = command(socket, word, 1, HOLD)
        assert refused is not None
        assert refused["slug"] == "not-in-control"
        socket.send_text(json.dumps({"socket": word, "count": 2, "control": True}))
        assert command(socket, word, 3, HOLD) is not None
    assert stage.client.post("/codes", json={}, headers={"Origin": ORIGIN}).status_code == 403
    assert stage.lesson.told == []


def test_any_paired_device_may_stop(stage: Stage) -> None:
    stage.pair(Role.VIEWER)
    with opened(stage) as socket:
        word = first_words(socket)["socket"]
        assert command(socket, word, 1, STOP) is None
    for emergency in (False, True):
        answer = stage.client.post(
            "/stop", json={"emergency": emergency}, headers={"Origin": ORIGIN}
        )
        assert answer.status_code == 200
    acts = [told.act for told, _ in stage.lesson.told if isinstance(told, SimpleCommand)]
    assert acts == [Act.STOP, Act.STOP, Act.EMERGENCY_STOP]


def test_two_coaches_cannot_command_at_once(stage: Stage) -> None:
    stage.pair(Role.COACH)
    with opened(stage) as first:
        word = first_words(first)["socket"]
        take_control(first, word, 1)
        stage.client.cookies.clear()
        stage.pair(Role.COACH)
        with opened(stage) as second:
            other = first_words(second)["socket"]
            refused = command(second, other, 1, HOLD)
            assert refused is not None
            assert refused["slug"] == "not-in-control"
            assert command(first, word, 2, HOLD) is None


def test_nothing_arms_from_the_page(stage: Stage) -> None:
    stage.pair(Role.COACH)
    with opened(stage) as socket:
        word = first_words(socket)["socket"]
        take_control(socket, word, 1)
        code = {"do": "arming-code", "launcher": 0, "code": "1234"}
        refused = command(socket, word, 2, code)
        assert refused is not None
        assert refused["slug"] == "not-from-a-page"
    assert not [act for act in Act if "arm" in act.value]
    assert stage.lesson.told == []


def test_every_answer_carries_the_security_headers(stage: Stage) -> None:
    for path in ("/", "/static/style.css", "/nowhere"):
        headers = stage.client.get(path).headers
        assert "default-src 'none'" in headers["content-security-policy"]
        assert "frame-ancestors 'none'" in headers["content-security-policy"]
        assert headers["x-content-type-options"] == "nosniff"
        assert headers["cache-control"] == "no-store"


def test_no_page_asks_a_third_party_for_anything(stage: Stage) -> None:
    from feedscript.console.app import STATIC

    for file in STATIC.iterdir():
        text = file.read_text("utf-8").replace("http://www.w3.org/2000/svg", "")
        assert "http://" not in text, file.name
        assert "https://" not in text, file.name
        assert "<script>" not in text, file.name
        assert "style=" not in text, file.name


@pytest.mark.parametrize("act", ["hold", "stop", "emergency-stop"])
def test_a_stop_and_a_hold_wait_for_no_command_before_them(stage: Stage, act: str) -> None:
    """Another pace is being proven, and that takes as long as it likes."""
    proven = anyio.Event()

    async def slowly(command: SimpleCommand, by: str) -> None:
        stage.lesson.told.append((command, by))
        if command.act is Act.SLOWER:
            await proven.wait()

    stage.lesson.command = slowly
    stage.pair(Role.COACH)
    with opened(stage) as socket:
        word = first_words(socket)["socket"]
        take_control(socket, word, 1)
        orders = ("slower", "next", act, "faster")
        for count, order in enumerate(orders, 2):
            told = {"socket": word, "count": count, "command": {"do": "act", "act": order}}
            socket.send_text(json.dumps(told))
        while len(stage.lesson.told) < 2:
            socket.receive_text()
        acts = [command.act.value for command, _ in stage.lesson.told]
        assert acts == ["slower", act]  # "next" was taken back
        stage.client.portal.call(proven.set)
        while len(stage.lesson.told) < 3:
            socket.receive_text()
    assert [command.act.value for command, _ in stage.lesson.told][2:] == ["faster"]
