"""Who comes to a desk on the club's server, what is passed on, what one desk may do to others."""

from __future__ import annotations

import json
import time
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

import pytest
from starlette.routing import BaseRoute, Route, WebSocketRoute
from websockets.exceptions import ConnectionClosed, InvalidStatus
from websockets.sync.client import ClientConnection

from feedscript.club.desks import gate
from feedscript.club.store.people import forgotten
from feedscript.journal.redaction import FORGOTTEN
from tests.club.desks.stage import Asking, AtDesks, folder_of, program

#: Everything of the desks, with what a stranger, a viewer and a coach are answered: pages send a
#: stranger to sign in.
PAGES = ("/desk", "/mine", "/mine/x", "/lessons", "/lessons/h/l")
DATA = (
    *("/programs", "/programs/x", "/programs/x/versions", "/programs/x/versions/1"),
    *("/first-lesson", "/played/x", "/tried/x?what=jam", "/tested/x", "/papers/sheet/x"),
    "/suggestions/h/l/x",
)
POSTS = ("/mine/x/court", "/mine/x/propose", "/mine/x/delete", "/handed/x/take-back")


def of_desks(routes: list[BaseRoute]) -> set[str]:
    found = set()
    for one in routes:
        if isinstance(one, Route | WebSocketRoute) and one.endpoint.__module__.startswith(
            ("feedscript.club.desks", "feedscript.desk")
        ):
            found.add(one.path)
    return found


def opened(socket: ClientConnection, uri: str, words: str) -> None:
    """The page's editor opens a program."""
    say(socket, "initialize", 1, processId=None, rootUri=None, capabilities={})
    say(socket, "initialized")
    document = {"uri": uri, "languageId": "feedscript", "version": 1, "text": words}
    say(socket, "textDocument/didOpen", textDocument=document)


def say(socket: ClientConnection, method: str, id_: int | None = None, **params: Any) -> None:
    message: dict[str, Any] = {"jsonrpc": "2.0", "method": method, "params": params}
    socket.send(json.dumps(message if id_ is None else {**message, "id": id_}))


def seen(socket: ClientConnection, within_s: float = 60.0) -> dict[str, Any]:
    """What there is to see, when the check has spoken."""
    until_s = time.monotonic() + within_s
    while True:
        told = json.loads(socket.recv(timeout=until_s - time.monotonic()))
        if told.get("method") == "feedscript/seen":
            return dict(told["params"]["seen"])


@contextmanager
def at_work(page: Asking, name: str) -> Iterator[ClientConnection]:
    """A program open at a desk."""
    told = page.get(f"/programs/{name}").json()
    with page.words(name) as socket:
        opened(socket, told["uri"], told["words"])
        yield socket


def test_strangers_and_viewers_come_to_no_desk(stage: AtDesks) -> None:
    stranger, wall = stage.page(None), stage.page(stage.wall)
    for place in PAGES:
        assert stranger.get(place).headers["location"] == "/"
        assert wall.get(place).status_code == 403
    for place in DATA:
        assert stranger.get(place).status_code == 401, place
        assert wall.get(place).status_code == 403, place
    for page, status in ((stranger, 401), (wall, 403)):
        assert page.save("x", "words").status_code == status
        assert page.client.post("/first-lesson", json={}).status_code == status
        with pytest.raises(InvalidStatus):
            page.words("shipped/wednesday-six")
    for place in POSTS:
        assert stranger.post(place).headers["location"] == "/"
        assert wall.post(place).status_code == 403
    assert stage.wall.id not in stage.desks._of


def test_every_place_of_the_desks_is_among_those(stage: AtDesks) -> None:
    tried = {one.partition("?")[0] for one in (*PAGES, *DATA, *POSTS)} | {"/words/x"}
    for path in of_desks(stage.app.routes):
        shape = path.replace(":path}", "}").split("/")
        assert any(
            len(shape) == len(one.split("/"))
            and all(a == b or a[:1] == "{" for a, b in zip(shape, one.split("/"), strict=True))
            for one in tried
        ), path


def test_another_page_writes_nothing_in_a_coachs_browser(stage: AtDesks) -> None:
    kim = stage.page(stage.kim)
    for origin in ("http://elsewhere.example", "null", ""):
        kim.client.headers["Origin"] = origin
        assert kim.save("foreign", "words").status_code == 403
        assert kim.post("/mine/x/delete").status_code == 403
        with pytest.raises(InvalidStatus):
            kim.words("shipped/wednesday-six", origin or "http://x.example")
    own = stage.page(stage.kim)
    assert "foreign" not in [one["name"] for one in own.get("/programs").json()]


@pytest.mark.parametrize(
    "name",
    [
        "..%2f..%2f..%2fetc%2fpasswd",
        "%2e%2e/%2e%2e/etc/passwd",
        "shipped/..%2f..%2fpyproject",
        "club/..%2fkey",
        "my/x",
        "x%00",
        "../club/checked/x",
    ],
)
def test_no_path_leads_out_of_a_desk(stage: AtDesks, name: str) -> None:
    kim = stage.page(stage.kim)
    for place in ("programs", "played", "tested", "papers/sheet"):
        answer = kim.get(f"/{place}/{name}")
        assert answer.status_code in (404, 409), (place, answer.text[:200])
    with pytest.raises((InvalidStatus, ConnectionClosed)), kim.words("../x") as socket:
        socket.recv(timeout=30)


def test_what_a_program_uses_is_the_coachs_own_the_librarys_or_shipped(stage: AtDesks) -> None:
    kim, lee = stage.page(stage.kim), stage.page(stage.lee)
    assert lee.save("theirs", program("Theirs")).status_code == 200
    assert lee.get("/programs/theirs").status_code == 200
    uses = program("Uses").replace("title", 'use "{}"\ntitle', 1)
    assert kim.save("volleys", program("Volleys")).status_code == 200
    assert kim.save("fine", uses.replace("{}", "volleys.feed")).status_code == 200
    assert kim.get("/played/fine").status_code == 200
    other = folder_of(stage, stage.lee) / "programs" / "theirs.feed"
    assert other.exists()
    for path in (str(other), f"../../{other.parts[2]}/programs/theirs.feed", "my/theirs", "theirs"):
        kim.save(
            "spies", uses.replace("{}", path), kim.get("/programs/spies").json().get("version", "")
        )
        assert kim.get("/played/spies").status_code == 409


def test_words_are_checked_while_they_are_written(stage: AtDesks) -> None:
    kim = stage.page(stage.kim)
    kim.save("live", program("Live"))
    with at_work(kim, "live") as socket:
        assert seen(socket)["ok"] is True
    assert kim.get("/papers/sheet/live").headers["content-security-policy"].startswith("default")
    assert kim.get("/tested/live").json()["expectations"] == []


@pytest.mark.parametrize(
    "nonsense",
    [
        "no JSON",
        "[1]",
        '{"jsonrpc": "2.0", "id": 1, "method": "textDocument/hover", "params": '
        '{"textDocument": {"uri": "file:///etc/passwd"}, "position": {"line": 0, "character": 0}}}',
        "[" * 100_000,
    ],
)
def test_a_page_that_sends_what_none_of_ours_does_is_let_go(stage: AtDesks, nonsense: str) -> None:
    kim = stage.page(stage.kim)
    with kim.words("shipped/wednesday-six") as socket:
        socket.send(nonsense)
        with pytest.raises(ConnectionClosed) as let_go:
            socket.recv(timeout=30)
        assert let_go.value.rcvd is not None
        assert let_go.value.rcvd.code == 1008
    assert kim.get("/first-lesson").status_code == 200


def test_nothing_is_begun_from_a_desk_on_the_server(stage: AtDesks) -> None:
    kim = stage.page(stage.kim)
    for place in ("/court", "/court/begin", "/court/page", "/court/launchers/live"):
        assert kim.get(place).status_code == 404
        assert kim.client.post(place, json={}).status_code in (404, 405)
    page = kim.get("/desk").text
    assert 'data-served="club"' in page


def test_a_coach_has_so_many_pages_open(stage: AtDesks, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(gate, "MOST_TABS", 1)
    kim = stage.page(stage.kim)
    with kim.words("shipped/wednesday-six"), pytest.raises(InvalidStatus):
        kim.words("shipped/wednesday-six")
    desk = stage.desks._of[stage.kim.id]
    until_s = time.monotonic() + 10.0
    while desk.tabs and time.monotonic() < until_s:
        time.sleep(0.01)
    with kim.words("shipped/wednesday-six"):
        assert desk.tabs == 1


def test_a_heavy_program_keeps_nobody_else_waiting(stage: AtDesks) -> None:
    """Its check takes its own desk's time; the server answers others, and others' desks too."""
    kim, lee = stage.page(stage.kim), stage.page(stage.lee)
    feeds = "".join(
        f"feed f{n} {{ land {1 + n % 40 / 10} m inside baseline, on centre line"
        f"  speed {60 + n % 30} km/h }}\n"
        for n in range(400)
    )
    sends = " ".join(f"send f{n} after 6 s" for n in range(400))
    heavy = program("Heavy").split("lesson")[0] + feeds + f"lesson {{ show speed of deep {sends} }}"
    assert kim.save("heavy", heavy).status_code == 200
    lee.get("/programs/theirs")
    with at_work(kim, "heavy") as socket:
        slowest_s = 0.0
        for _ in range(20):
            begun_s = time.monotonic()
            assert lee.get("/health").status_code == 200
            assert lee.get("/programs").status_code == 200
            slowest_s = max(slowest_s, time.monotonic() - begun_s)
        assert not _is_checked(socket)
    assert slowest_s < 5.0


def _is_checked(socket: ClientConnection) -> bool:
    """Whether the check has spoken already: then nobody was kept waiting by it."""
    try:
        seen(socket, 0.01)
    except TimeoutError:
        return False
    return True


def test_who_is_forgotten_lies_on_no_desk(stage: AtDesks) -> None:
    """As the desks are looked at four times a minute; and an old window saves nothing over it."""
    kim = stage.page(stage.kim)
    told = kim.save("for Quatermain", "# Quatermain").json()
    kim.get("/programs")
    root = folder_of(stage, stage.kim)
    assert [one for one in root.rglob("*.feed") if b"Quatermain" in one.read_bytes()]
    forgotten.forget(stage.store, "Quatermain", 20.0)
    stage.desks.bring(stage.kim.id, stage.desks._of[stage.kim.id])
    assert not [one for one in root.rglob("*.feed") if "Quatermain" in f"{one}{one.read_text()}"]
    late = kim.save(f"for {FORGOTTEN}", "# Quatermain again", told["version"]).json()
    assert late["now"]["words"] == f"# {FORGOTTEN}"
